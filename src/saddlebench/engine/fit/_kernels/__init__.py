"""Compiled core of settling: arrays in, arrays out. The public twins are in the modules above."""
