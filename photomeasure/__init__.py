"""Photo-assisted measuring of fluid fittings and hose routes."""

from importlib.metadata import version

__version__ = version("photomeasure")
