"""From a drawing to a pattern.

In: a Drawing and what the maker says of it. Out: a Pattern of panels, seams and marks, with
a word on everything that was left out.
"""
