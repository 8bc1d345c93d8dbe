"""bandtrial: trial cuts on metal-cutting band machines, turned into settings with honest uncertainty."""

__version__ = "0.2.0"
