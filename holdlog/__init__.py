"""holdlog: the holding and shelf-life log of a kitchen."""

__version__ = "0.1.0"
