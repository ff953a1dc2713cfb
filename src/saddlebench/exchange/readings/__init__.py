"""Tables of readings as a fitter keeps them: CSV in, the engine's raw readings out."""

from saddlebench.exchange.readings.reader import read_readings

__all__ = ["read_readings"]
