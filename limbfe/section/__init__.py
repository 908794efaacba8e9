"""Cross-sections: meshes, 6x6 stiffness and mass, named properties, stress recovery."""

from limbfe.section.meshing.mesh import (
    SectionMesh,
    integration_points,
    mapped_mesh,
    mesh_from_arrays,
    section_mesh,
)
from limbfe.section.meshing.zone_lines import zone_lines
from limbfe.section.properties import (
    PrincipalAxes,
    axial_stiffness,
    bending_stiffness,
    moved_reference,
    neutral_axis,
    principal_axes,
    shear_centre,
    tension_centre,
    torsion_stiffness,
)
from limbfe.section.stiffness import SectionStiffness, section_stiffness
from limbfe.section.yielding.fibre_law import FibreLaw, crush, crushing_work, law_through
from limbfe.section.yielding.inelastic import (
    FibreResponse,
    FibreSection,
    RecoveredField,
    fibre_response,
    fibre_section,
    fresh_state,
    grain_modulus,
    lost_energy,
    recover_inelastic,
    stored_energy,
)
from limbfe.section.yielding.pressing import strains_under

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
    "crush",
    "crushing_work",
    "fibre_response",
    "fibre_section",
    "fresh_state",
    "grain_modulus",
    "integration_points",
    "law_through",
    "lost_energy",
    "mapped_mesh",
    "mesh_from_arrays",
    "moved_reference",
    "neutral_axis",
    "principal_axes",
    "recover_inelastic",
    "section_mesh",
    "section_stiffness",
    "shear_centre",
    "stored_energy",
    "strains_under",
    "tension_centre",
    "torsion_stiffness",
    "zone_lines",
]
