"""`python -m brewcost` is the same as `brewcost`."""

from brewcost.cli import main

if __name__ == "__main__":
    main()
