"""Keep what the notebooks say of the sample study, after a change that is meant: python -m tests.notebooks."""

from tests.notebooks.renewing import NOTEBOOKS, make_report, renew

if __name__ == "__main__":
    make_report()
    for name in NOTEBOOKS:
        renew(name)
        print(name)
