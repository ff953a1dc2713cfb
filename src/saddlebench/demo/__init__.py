"""An invented yard: no horse, person or saddle in it exists."""
