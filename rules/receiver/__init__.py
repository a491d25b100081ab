"""The receiver: whether there is one, where it is wired, and whether the two ends agree.

In the order in which one would ask at the bench: is a receiver set, on one port and the right one,
with nothing else on it; is it the link that is fitted; does its signal come out the right way up,
at the right speed, on the right number of wires, often enough; and is the first stick the first.
"""
