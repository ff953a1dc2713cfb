"""The phone alone at the horse: pages that work with no server in reach, and what takes in what they kept."""
