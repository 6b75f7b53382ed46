"""Water that follows the readings: ``follow`` runs it on, ``analysis`` is one correction."""
