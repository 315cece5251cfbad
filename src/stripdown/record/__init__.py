"""Any accepted file → checked, frozen `Record`s, or all the `Fault`s that stand in the way."""
