"""A visit: started anywhere, filled in any order, stopped where it must be, printed at its end."""
