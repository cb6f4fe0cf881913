"""Heat of filling: gas temperature, the hot stop, cooling, and conductances from readings.

First law for a rigid cylinder with a lumped wall: one temperature for the gas, one for the
metal.  An estimate that tells when to shut the valve; what counts is read again at rest.
"""
