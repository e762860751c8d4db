"""The sums of the trade: quantities in, quantities and verdicts out.

No web, no database, nothing of the rest of the house. Each module is one subject; `quantity` holds the type they
all speak and `problems` the errors they all raise.
"""
