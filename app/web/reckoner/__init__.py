"""The Reckoner: each sum of the trade on a page of its own, usable with no job open.

A sum is a description (`sums.Sum`): what it asks, its inputs, a function from what was typed to result lines, formula,
sources, picture, worked example. One template shows them all. The sums themselves are in `app.trade`.
"""
