//! The camera against its own matrix, and against what drawings show.

use super::*;

const LOW: Vec3 = Vec3::new(-80.0, -60.0, 0.0);
const HIGH: Vec3 = Vec3::new(90.0, 75.0, 120.0);

fn both() -> [Camera; 2] {
    [Projection::Perspective, Projection::Parallel].map(|projection| {
        let mut camera = Camera {
            projection,
            target: Vec3::new(10.0, -20.0, 30.0),
            yaw: 0.7,
            pitch: 0.4,
            ..Camera::default()
        };
        camera.fit(LOW, HIGH);
        camera
    })
}

#[track_caller]
fn same(a: Vec2, b: Vec2) {
    assert!(a.distance(b) < 0.05, "{a} is not {b}");
}

fn clip_to_pixel(camera: &Camera, at: Vec3) -> Vec2 {
    let clip = camera.view_projection(LOW, HIGH) * at.extend(1.0);
    let ndc = clip.truncate() / clip.w;
    assert!((-1e-4..=1.0001).contains(&ndc.z), "depth {}", ndc.z);
    (Vec2::new(ndc.x, -ndc.y) * 0.5 + 0.5) * camera.viewport
}

#[test]
fn matrix_pixel_and_ray_agree() {
    for camera in both() {
        for at in corners(LOW, HIGH) {
            let pixel = camera.pixel(at).unwrap();
            same(pixel, clip_to_pixel(&camera, at));
            let ray = camera.ray(pixel);
            let nearest = ray.origin + ray.direction * (at - ray.origin).dot(ray.direction);
            assert!(nearest.distance(at) < 0.05, "{nearest} is not {at}");
        }
    }
}

#[test]
fn fit_shows_every_corner_and_wastes_little() {
    for mut camera in both() {
        for direction in Direction::ALL {
            camera.look_from(direction);
            camera.fit(LOW, HIGH);
            let pixels = corners(LOW, HIGH).map(|corner| camera.pixel(corner).unwrap());
            let reach = pixels.map(|p| (p / camera.viewport * 2.0 - 1.0).abs().max_element());
            let reach = reach.into_iter().fold(0.0, f32::max);
            assert!((0.85..0.95).contains(&reach), "{direction:?}: {reach}");
        }
    }
}

#[test]
fn the_point_under_the_pointer_stays_there() {
    for camera in both() {
        let about = Vec3::new(40.0, 10.0, 100.0);
        let pixel = camera.pixel(about).unwrap();
        let mut zoomed = camera;
        zoomed.zoom(0.4, about);
        same(zoomed.pixel(about).unwrap(), pixel);
        let mut turned = camera;
        turned.orbit(Vec2::new(123.0, -45.0), about);
        same(turned.pixel(about).unwrap(), pixel);
        let mut panned = camera;
        panned.pan(Vec2::new(31.0, -17.0), about);
        same(panned.pixel(about).unwrap(), pixel + Vec2::new(31.0, -17.0));
    }
}

#[test]
fn named_directions_show_the_axes_as_a_drawing_does() {
    let mut camera = Camera::default();
    let expected = [
        (Direction::Front, Vec3::X, Vec3::Z),
        (Direction::Back, -Vec3::X, Vec3::Z),
        (Direction::Right, Vec3::Y, Vec3::Z),
        (Direction::Left, -Vec3::Y, Vec3::Z),
        (Direction::Top, Vec3::X, Vec3::Y),
        (Direction::Bottom, Vec3::X, -Vec3::Y),
    ];
    for (direction, right, up) in expected {
        camera.look_from(direction);
        let basis = camera.basis();
        assert!(basis.x_axis.distance(right) < 1e-6, "{direction:?}");
        assert!(basis.y_axis.distance(up) < 1e-6, "{direction:?}");
    }
}

#[test]
fn depth_order_is_kept_and_nothing_is_lost_between_the_planes() {
    for camera in both() {
        let map = camera.view_projection(LOW, HIGH);
        let depth = |at: Vec3| {
            let clip = map * at.extend(1.0);
            clip.z / clip.w
        };
        let ray = camera.ray(camera.viewport * 0.5);
        let near = camera.target - ray.direction * 40.0;
        let far = camera.target + ray.direction * 40.0;
        assert!(depth(near) < depth(camera.target) && depth(camera.target) < depth(far));
    }
}

#[test]
fn rays_meet_planes_and_boxes() {
    let ray = Ray { origin: Vec3::new(0.0, 0.0, 10.0), direction: -Vec3::Z };
    assert_eq!(ray.at_height(4.0), Some(Vec3::new(0.0, 0.0, 4.0)));
    assert_eq!(ray.at_height(11.0), None);
    assert_eq!(ray.through_box(Vec3::splat(-1.0), Vec3::splat(1.0)), Some([9.0, 11.0]));
    assert_eq!(ray.through_box(Vec3::splat(2.0), Vec3::splat(3.0)), None);
    let level = Ray { origin: Vec3::new(0.0, 0.0, 10.0), direction: Vec3::X };
    assert_eq!(level.at_height(4.0), None);
}

#[test]
fn a_move_between_views_takes_the_short_way_round() {
    let a = Camera { yaw: 3.0, ..Camera::default() };
    let b = Camera { yaw: -3.0, ..Camera::default() };
    let half = a.towards(&b, 0.5);
    assert!(half.yaw.abs() > 3.1);
    assert_eq!(a.towards(&b, 1.0), b);
}
