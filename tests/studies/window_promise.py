"""Does the window keep its promise? A simulation, run by hand: not collected by pytest.

Usage: python tests/studies/window_promise.py [N_TRIALS] [CELL …]    runs trials, then the table
       python tests/studies/window_promise.py table                  the table of what is stored
       python tests/studies/window_promise.py draws [N_TRIALS]       whether fewer draws flatter

N_TRIALS (1,000) is the number of trials that each cell is to have; those stored in
`window/results` are not run again, so a study can be stopped and taken up. Cells (all) are named
as in `window/cells.py`; they take turns, a batch at a time. The window that takes the model form
as right, and the box of means that people use now, are looked at in every fifth trial.
"""

import sys
from itertools import product

from window import cells, draws, quick, store, table, trials

BATCH = 20


def run(n_trials, chosen):
    """Run what is missing, a batch of each cell in turn."""
    with quick.quickened() as forget:
        for start, cell in product(range(1, n_trials + 1, BATCH), chosen):
            done = {int(row["seed"]) for row in store.rows(cell)}
            for seed in range(start, min(start + BATCH, n_trials + 1)):
                if seed not in done:
                    store.add(cell, seed, one_trial(cell, seed))
                    forget()


def one_trial(cell, seed):
    """Return what was seen of a trial, in every fifth of all three forms."""
    if seed % 5 == 1:
        return trials.answers(cell, seed, n_draws=quick.N_DRAWS)
    with quick.only_the_window():
        return trials.answers(cell, seed, n_draws=quick.N_DRAWS, forms=trials.FORMS[:1])


def main(asked):
    """Run the study, or print what is stored."""
    if asked[:1] == ["draws"]:
        draws.run(int(asked[1]) if asked[1:] else 60)
        return
    if asked != ["table"]:
        names = asked[1:] or list(cells.BY_NAME)
        run(int(asked[0]) if asked else 1000, [cells.BY_NAME[name] for name in names])
    table.write(cells.CELLS)


if __name__ == "__main__":
    main(sys.argv[1:])
