"""Mirror images and rotations are one layout: only one of each set is kept.

The laws are the same in all eight symmetries of the square about the vertical axis. Where nothing in the question
tells the images apart, the first stream's bin may be asked to stand in the canonical part of the box.
"""

from __future__ import annotations

from synth.model.vocabulary import Vocabulary, source_bin


def bin_in_canonical_part(v: Vocabulary) -> None:
    """West half, south half, and on square boxes not north of the diagonal. Sound: every set has an image like that."""
    q = v.question
    pinned = q.grid.blocked or q.straight or any(s.source_cells is not None or s.outputs_at for s in q.streams)
    if not q.break_symmetry or pinned:
        return
    w, d, _ = q.grid.size
    for cell in v.cells:
        x, y, _ = cell
        if 2 * x > w - 1 or 2 * y > d - 1 or (w == d and y > x):
            v.clauses.add(-v.is_(cell, source_bin(0)))
