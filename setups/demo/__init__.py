"""An invented business for trying Coilbook out: shops, people, springs, bikes, job cards in every state.

Everything in it is made up: makers, models, manuals, people and addresses. It is built by the same verbs
that the screens call, so its trail, versions and seals are real.
"""
