"""Handing records over to another practice, and taking what another hands over."""
