"""Stemline: a trainer for a chess player or coach who lives in one opening system."""

__version__ = "0.1.0"
