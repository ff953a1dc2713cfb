"""What changed on a horse's back between visits, and whether measuring alone would show as much."""
