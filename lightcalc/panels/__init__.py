"""
The stage: what a person sees and touches.

`history` holds what stands and what stood before, `compute` what computes, `page_values` the setup as plain numbers,
`page_words` readings in words, `stage` the widget; the .js files are its page, joined in the order that `stage` names.

What a hand moves is drawn by the page at once; it sends where things are, never numbers that it worked out. One message is in
flight; the next holds only the latest places and goes when the answer is there. A draft that takes too long is made smaller,
and, if its numbers do, brisk or hasty: with fewer particles and lines, until it is quick again. A final pass follows when the hand
lets go, or after 0.15 s of quiet. Where the engine has yet to be compiled the stage opens at once with straight light alone
(`answers.straight_first`), says so, follows the hand by it, and fills in the rest when it can. Every number and word on the
page was made in Python, so page, printed readings and saved notebook cannot differ. Stages made with `Stage.twin()` share one
state: one history, one computation.
"""
