"""``python -m holdlog``: the same as the command ``holdlog``."""

from holdlog.cli import main

if __name__ == "__main__":
    main()
