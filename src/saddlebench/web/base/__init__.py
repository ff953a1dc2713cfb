"""What every slice stands on: layout, components, access, errors, fields, jobs."""
