"""Tables of the trade: motor signals, receiver links, cells, modes that contradict, version order.

Take what is needed from the module that holds it (``signals``, ``links``, ``cells``, ``modes``,
``versions``); nothing is imported here, so that a run pays only for the tables it uses.
Every row carries ``source`` (keys of ``sources`` in braces, ``common practice`` or
``from memory``) and ``mark``, the weakest standing among the facts of that row.
"""
