"""Many lakes at once: the unit of work is one lake, here, in processes, or on a cluster."""
