"""Where crates have been, how warm it was there, and what that used of their keeping life.

rooms, stays and clocks are pure: plain values in, plain values out. logs keeps the rooms'
histories in memory; reader reads everything about some crates with a fixed number of queries.
"""
