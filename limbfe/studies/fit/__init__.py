"""From readings on the tiller to the stiffness of the wood that was measured."""

from limbfe.studies.fit.fitting import fit_readings
from limbfe.studies.fit.readings import Readings
from limbfe.studies.fit.results import Fit

__all__ = ["Fit", "Readings", "fit_readings"]
