"""Compiled loops over the rows of panels. Arrays in, arrays out."""

from saddlebench.engine.compiled import compiled


@compiled
def bridges(row_gap, length, depth, longest):
    """Fill depth and length of the deepest and the longest run of open rows that bearing rows enclose."""
    for d in range(row_gap.shape[0]):
        begun = False
        run_depth = run_length = 0.0
        for k in range(row_gap.shape[1]):
            gap = row_gap[d, k]
            if gap > 0.0:
                if begun:
                    run_depth = max(run_depth, gap)
                    run_length += length[k]
                continue
            if begun:
                depth[d] = max(depth[d], run_depth)
                longest[d] = max(longest[d], run_length)
            begun = True
            run_depth = run_length = 0.0
