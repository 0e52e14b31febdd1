"""Drawn days of weapon control, and how soon failing items are known in the order that Foible learns."""
