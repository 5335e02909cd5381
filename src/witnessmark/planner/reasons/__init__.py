"""Reasons for people: what a wish costs, until when an answer is in time, within what times all will be over."""
