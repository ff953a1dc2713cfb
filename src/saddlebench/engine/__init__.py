"""Pure computation: arrays and frozen records in, arrays and frozen records out."""
