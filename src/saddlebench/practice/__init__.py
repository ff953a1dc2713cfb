"""The practice's records: people, horses, saddles, visits, and everything that was measured and judged.

Call `saddlebench.practice.start.start()` before importing anything else from here.
"""
