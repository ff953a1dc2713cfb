"""Photos and films: taken in whole and safely, checked, drawn on, laid side by side."""
