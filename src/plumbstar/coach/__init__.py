"""A newcomer's message, in whatever words, and an answer to it that is fit to send.

:mod:`.mentions` finds the stars that a text speaks of, :mod:`.message` what it tells of each;
:mod:`.follows` works out what that tells and which one thing more would tell most; :mod:`.say`
finds the words. Nothing here refuses a message: what cannot be read is left aside, and said.
"""
