"""The person's records in groups, each with the verbs that store, list and remove what is in it.

Every write is one transaction: all of it is stored, or nothing. What is removed can be brought back by its
number among the removed. Command line, page and Python store through these verbs alone.
"""
