"""coretrack: grades used cores and works out what a good body costs."""

__version__ = "0.1.0"
