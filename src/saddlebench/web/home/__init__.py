"""The day: visits, due re-checks, recent work, the age of the newest backup; and the calendar feed."""
