"""Backs: instruments, readings, stations, surface, landmarks, descriptors."""
