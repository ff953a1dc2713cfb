"""Short films: their limits, and what is taken out of them before they are kept or handed on."""
