"""Parts, specifications and spares for workshops that keep very old aero engines alive."""

__version__ = "0.1.0"
