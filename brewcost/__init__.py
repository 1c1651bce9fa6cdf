"""brewcost: what a brewery's beer cost, where its volume went and what is owed on it, from its own records."""

__version__ = "0.1.0"
