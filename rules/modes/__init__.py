"""Modes: which switch turns what on, and what must or must not be on together.

First whether the craft can be armed at all; then each range by itself: is it empty, on a stick,
out of reach, can it be switched off, can it be switched on; then ranges against each other, arm
and self-right before all; last how near a switch comes to a range's edge.

What a channel can bring is taken from the card's switches, from the card's ends of the receiver
or from the usual travel of the link, in this order.
"""
