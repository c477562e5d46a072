"""What speaks for and against an image, weighed together: the grade, open contradictions, the next step.

Nothing else grades, proves or warns: every display asks `standing`. What is weighed is kept with the carrier (reads,
what images showed by themselves, explanations, trials); what follows from it is never kept as the truth, but derived
again whenever anybody asks.

- `standing`: the one answer
- `support`: which reads give which image, and which of them count
- `conditions`: in what reads differ, and whether that makes them independent
- `contradictions`: everything that speaks against an image, and what would settle it
- `parts`, `label_sums`: the part against marking, package and size; the sum on the label against the image's sums
- `resting`: what was made from images which are none any more
- `second`: what else speaks for an image
- `steps`, `urgency`: what to do next, and with which carrier first
- `examining`: look at one image by itself
- `replacements`: how well a new chip or disk is proved
- `rules`: the versions of all this
"""
