"""`python -m brewcost` is the same as `brewcost`."""

from brewcost.cli import main

main()
