"""Fabric needs: pieces laid on cloth on the grain, and the length to buy.

In: a shifted pattern, the plan, and how each cloth is sold. Out: layouts and their pictures.
"""
