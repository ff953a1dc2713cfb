"""Clients, yards, horses and saddles: found, taken on, edited, withdrawn, erased, carried in and out."""
