"""Work orders: written from a plan, sent to the workshop, worked on, checked when the saddle is back."""
