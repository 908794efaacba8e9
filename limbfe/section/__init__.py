"""Cross-sections: meshes, 6x6 stiffness and mass, named properties, stress recovery."""

from limbfe.section.fibre_law import FibreLaw, bilinear_law, crush, crushing_work, glos_law
from limbfe.section.inelastic import (
    FibreResponse,
    FibreSection,
    fibre_response,
    fibre_section,
    fresh_state,
    grain_modulus,
    lost_energy,
    recover_inelastic,
    stored_energy,
)
from limbfe.section.mesh import (
    SectionMesh,
    integration_points,
    mapped_mesh,
    mesh_from_arrays,
    section_mesh,
)
from limbfe.section.pressing import strains_under
from limbfe.section.properties import (
    PrincipalAxes,
    axial_stiffness,
    bending_stiffness,
    moved_reference,
    neutral_axis,
    principal_axes,
    shear_centre,
    tension_centre,
    torsion_constant,
    torsion_stiffness,
)
from limbfe.section.recovery import (
    RecoveredField,
    recover,
    resultants_of,
    strain_at,
    to_local_axes,
)
from limbfe.section.stiffness import SectionStiffness, section_stiffness
from limbfe.section.zone_lines import zone_lines

__all__ = [
    "FibreLaw",
    "FibreResponse",
    "FibreSection",
    "PrincipalAxes",
    "RecoveredField",
    "SectionMesh",
    "SectionStiffness",
    "axial_stiffness",
    "bending_stiffness",
    "bilinear_law",
    "crush",
    "crushing_work",
    "fibre_response",
    "fibre_section",
    "fresh_state",
    "glos_law",
    "grain_modulus",
    "integration_points",
    "lost_energy",
    "mapped_mesh",
    "mesh_from_arrays",
    "moved_reference",
    "neutral_axis",
    "principal_axes",
    "recover",
    "recover_inelastic",
    "resultants_of",
    "section_mesh",
    "section_stiffness",
    "shear_centre",
    "stored_energy",
    "strain_at",
    "strains_under",
    "tension_centre",
    "to_local_axes",
    "torsion_constant",
    "torsion_stiffness",
    "zone_lines",
]
