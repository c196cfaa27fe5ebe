"""The suite: one folder a room of ``holdlog``, and ``packaging`` and ``house`` beside them."""
