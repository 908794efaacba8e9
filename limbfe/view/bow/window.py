"""The bow in space: a window to turn it in, and the scene that pages are made from."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from limbfe.errors import LimbfeError
from limbfe.view import labels, theme
from limbfe.view.bow.limb import place_marks
from limbfe.view.bow.places import label_places, leaders, nearest_place, station_text
from limbfe.view.bow.scene import LIGHT, add_bow, axis_mesh, whole_surface
from limbfe.view.probe import probe_display, require_rendering

if TYPE_CHECKING:
    from limbfe.analysis.bow.drawn import Pose
    from limbfe.analysis.results.assessment import Assessment
    from limbfe.analysis.wood.stress import SurfaceField

SIZE = (1300, 950)
NEXT_KEY = "n"
"""Shows the next result; VTK keeps e, f, p, q, r, s, w and 3 for itself."""
HELP = "n: next colouring    click: numbers and section    drag: turn    wheel: closer"


class BowScene:
    """A plotter with the bow in it, whose draw, colours and chosen place can be changed.

    Parameters
    ----------
    plotter : pyvista.Plotter
    assessment : Assessment
    steps : sequence of (Pose, SurfaceField or None)
        States the draw can be set to, in order; where the fields are None the limb is shown in
        wood tones, since nothing is known there.
    result : {"strength_used", "axial_strain", "axial_stress", "wood"}
    units : {"metric", "imperial"}
    """

    def __init__(
        self,
        plotter: Any,
        assessment: Assessment,
        steps: Sequence[tuple[Pose, SurfaceField | None]],
        *,
        result: theme.Result = "strength_used",
        units: labels.Units = "metric",
    ) -> None:
        self.plotter = plotter
        self.assessment = assessment
        self.steps = tuple(steps)
        self.result = result
        self.units = units
        self.step = len(self.steps) - 1
        self._place: tuple[int, int] | None = None
        self._section: Any = None
        plotter.set_background(theme.PAPER)
        self._add_ghosts()
        self.refresh()
        self._aim()

    def set_step(self, step: int) -> None:
        """Show another state of the draw."""
        self.step = int(np.clip(step, 0, len(self.steps) - 1))
        self.refresh()

    def set_result(self, result: theme.Result) -> None:
        """Colour the limb by another result."""
        self.result = result
        self.refresh()

    def next_result(self) -> None:
        """Colour the limb by the result that follows, round and round."""
        at = theme.RESULTS.index(self.result)
        self.set_result(theme.RESULTS[(at + 1) % len(theme.RESULTS)])

    def refresh(self) -> None:
        """Draw the present state again in place of the last."""
        pose, fields = self.steps[self.step]
        result: theme.Result = "wood" if fields is None else self.result
        plotter = self.plotter
        add_bow(plotter, self.assessment, pose, result, fields, units=self.units)
        for ghost in self.assessment.drawn.poses[:-1]:
            plotter.actors[f"ghost {ghost.name}"].SetVisibility(ghost.name != pose.name)
        self._add_words(pose, result)
        if self._place is not None:
            surface = whole_surface(self.assessment, fields)
            text = station_text(self.assessment, surface, self._place, self.units)
            add_words(plotter, text, "right_edge", 11, "numbers")
        plotter.render()

    def pick(self, point: Any) -> str:
        """Return the numbers at the place of the skin nearest to a point in space."""
        pose, fields = self.steps[self.step]
        surface = whole_surface(self.assessment, fields)
        at = nearest_place(pose, surface, np.asarray(point))
        return station_text(self.assessment, surface, at, self.units)

    def show_place(self, point: Any) -> None:
        """Show the numbers and the section at the place of the skin nearest to a point.

        They stay while the draw is changed: numbers of the state that is shown, the section's
        stress at full draw.
        """
        pose, fields = self.steps[self.step]
        surface = whole_surface(self.assessment, fields)
        self._place = nearest_place(pose, surface, np.asarray(point))
        self._show_section(float(surface.x[self._place[0]]))
        self.refresh()

    def _show_section(self, x: float) -> None:
        import pyvista as pv

        from limbfe.analysis.wood.section_field import section_field
        from limbfe.view.section.picture import draw_stress

        field = section_field(self.assessment.setup, self.assessment.limb, x)
        figure = draw_stress(field, units=self.units)
        width, height = figure.get_size_inches() * figure.dpi / np.array(SIZE)
        size = (float(0.8 * width), float(0.8 * height))
        if self._section is not None:
            self.plotter.remove_chart(self._section)
        self._section = pv.ChartMPL(figure, size=size, loc=(0.99 - size[0], 0.14))
        self.plotter.add_chart(self._section)

    def _add_ghosts(self) -> None:
        for pose in self.assessment.drawn.poses[:-1]:
            self.plotter.add_mesh(
                axis_mesh(pose), color=theme.GHOST, pickable=False, name=f"ghost {pose.name}",
                **LIGHT,
            )  # fmt: skip

    def _add_words(self, pose: Pose, shown: theme.Result) -> None:
        plotter = self.plotter
        draw = labels.length_text(pose.draw_length, self.units)
        state = pose.name if pose.name in ("unstrung", "braced") else f"drawn to {draw}"
        title = f"{self.assessment.setup.title}\n{state}"
        add_words(plotter, title, "upper_left", 13, "title")
        self._add_scale(shown)
        for part in ("spots-points", "spots-labels", "leaders"):
            plotter.remove_actor(part, render=False)
        marks = place_marks(self.assessment, self.units)
        if marks and pose.draw_length == self.assessment.drawn.poses[-1].draw_length:
            places = label_places(np.array([mark.point for mark in marks]), pose)
            plotter.add_mesh(
                leaders(places, marks), color=theme.FAINT, line_width=1.5, lighting=False,
                pickable=False, name="leaders", render=False,
            )  # fmt: skip
            plotter.add_point_labels(
                places, [mark.text for mark in marks], name="spots", font_size=15,
                text_color=theme.INK, shape=None, show_points=False, always_visible=True,
                justification_horizontal="right", justification_vertical="center",
                pickable=False, font_file=theme.font_file(), render=False,
            )  # fmt: skip

    def _add_scale(self, shown: theme.Result) -> None:
        plotter = self.plotter
        for title in list(plotter.scalar_bars.keys()):
            plotter.remove_scalar_bar(title, render=False)
        if shown == "wood":
            return
        scale = theme.scale_of(shown, self.units)
        plotter.add_scalar_bar(
            title=scale.label, mapper=plotter.actors["skin"].mapper, color=theme.INK,
            n_labels=5 if scale.centred else 6, fmt="%.3g", position_x=0.22, position_y=0.03,
            width=0.56, height=0.095, title_font_size=17, label_font_size=15, vertical=False,
            render=False,
        )  # fmt: skip

    def _aim(self) -> None:
        """Look from the archer's left and a little from behind the string."""
        camera = self.plotter.camera
        camera.up = (0.0, 0.0, 1.0)
        camera.focal_point = (0.25, 0.0, 0.0)
        camera.position = (1.75, -3.7, 0.75)
        camera.view_angle = 28.0
        self.plotter.renderer.reset_camera_clipping_range()


def add_words(plotter: Any, text: str, position: str, size: int, name: str) -> None:
    """Write text at an edge or corner of the window in place of what bore the same name."""
    plotter.add_text(
        text, position=position, font_size=size, name=name, color=theme.INK,
        font_file=theme.font_file(), render=False,
    )  # fmt: skip


def known_steps(assessment: Assessment) -> tuple[tuple[Pose, SurfaceField | None], ...]:
    """Return the states an assessment holds; the fields are known at full draw only."""
    *others, drawn = assessment.drawn.poses
    return (*((pose, None) for pose in others), (drawn, assessment.surface))


def make_scene(
    assessment: Assessment,
    *,
    steps: Sequence[tuple[Pose, SurfaceField | None]] | None = None,
    result: theme.Result = "strength_used",
    units: labels.Units = "metric",
    off_screen: bool = True,
) -> BowScene:
    """Return the bow in a plotter, off screen unless asked otherwise.

    Raises
    ------
    LimbfeError
        When nothing on this machine can draw, or no window can be opened.
    """
    import pyvista as pv

    if off_screen:
        require_rendering()
    else:
        display = probe_display()
        if not display.available:
            raise LimbfeError(f"show: {display.reason}")
    plotter = pv.Plotter(off_screen=off_screen, window_size=list(SIZE))
    shown = known_steps(assessment) if steps is None else steps
    return BowScene(plotter, assessment, shown, result=result, units=units)


def show_bow(assessment: Assessment, **options: Any) -> None:
    """Open a window: turn it, slide the draw, choose the result, click for numbers and section.

    Parameters
    ----------
    assessment : Assessment
    **options
        `steps`, `result` and `units` of `make_scene`.

    Raises
    ------
    LimbfeError
        When no window can be opened here.
    """
    scene = make_scene(assessment, off_screen=False, **options)
    add_controls(scene)
    scene.plotter.show(title=f"limbfe: {assessment.setup.title}")


def add_controls(scene: BowScene) -> None:
    """Give a scene its slider, its keys and its clicks."""
    plotter = scene.plotter
    if len(scene.steps) > 1:
        plotter.add_slider_widget(
            lambda value: scene.set_step(round(value)), (0, len(scene.steps) - 1),
            value=scene.step, title="draw", pointa=(0.70, 0.93), pointb=(0.97, 0.93),
            style="modern", color=theme.FAINT, fmt="", title_height=0.018,
            slider_width=0.025, tube_width=0.006, title_color=theme.INK,
        )  # fmt: skip
    plotter.add_key_event(NEXT_KEY, scene.next_result)
    add_words(plotter, HELP, "lower_right", 9, "help")
    plotter.enable_surface_point_picking(
        callback=scene.show_place, left_clicking=True, show_message=False, show_point=True,
        color=theme.INK, point_size=12,
    )  # fmt: skip
