"""saddlebench: measure a horse's back, judge a saddle on it, and say how sure that is."""

from saddlebench.datafolder import prepare_compiled_cache

__version__ = "0.1.0.dev0"

prepare_compiled_cache()
