"""A large machine and a recipe without shrinkage, for jobs that the scripts beside this one write."""

MACHINE = """(version: 2, name: "large", build_space_mm: (400, 400, 400), spreading_direction_deg: 0,
recoat_time_s: 10, laser: (wavelength_nm: 10600, max_power_w: 30),
scan_head: (max_mark_speed_mm_s: 10000, jump_speed_mm_s: 10000))"""
RECIPE = """(version: 2, name: "fine", layer_thickness_mm: 0.1, shrinkage_percent: (0, 0, 0), z_growth_mm: 0,
beam_offset_mm: 0.2, joins: Round(chord_tolerance_um: 5), thin_walls: Skip,
exposures: [(name: "all", power_w: 20, speed_mm_s: 5000)],
core: (sequence: ContoursFirst, contours: (count: 1, spacing_mm: 0.1, order: OutsideIn, start: Nearest,
  exposures: ["all"]), hatch: (spacing_mm: 0.1, gap_mm: 0.1, angle_deg: 0, rotation_per_layer_deg: 67, travel: Serpentine,
  pattern: Lines, min_length_mm: 0, every_nth_layer: 1, exposures: ["all"])))"""
