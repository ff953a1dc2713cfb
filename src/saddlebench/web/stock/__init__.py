"""The stock: where each saddle is; which of them for one horse, which horses for one of them."""
