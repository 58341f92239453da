//! A graphics device without a window, and what it drew.

#![allow(dead_code, reason = "tests and examples each use a part")]

/// The best adapter there is (`WGPU_BACKEND` chooses among several), with limits made from its own,
/// and what it is.
///
/// # Errors
/// What is missing, in words.
pub(crate) fn adapter(
    limits: impl FnOnce(wgpu::Limits) -> wgpu::Limits,
) -> Result<(wgpu::Device, wgpu::Queue, String), Box<dyn std::error::Error>> {
    let descriptor = wgpu::InstanceDescriptor::new_without_display_handle_from_env();
    let instance = wgpu::Instance::new(descriptor);
    let options = wgpu::RequestAdapterOptions {
        power_preference: wgpu::PowerPreference::HighPerformance,
        ..Default::default()
    };
    let adapter = pollster::block_on(instance.request_adapter(&options)).map_err(|error| {
        format!("no graphics adapter ({error}); install mesa-vulkan-drivers for a software one")
    })?;
    let info = adapter.get_info();
    let (device, queue) = pollster::block_on(adapter.request_device(&wgpu::DeviceDescriptor {
        required_limits: limits(adapter.limits()),
        ..Default::default()
    }))?;
    let name = format!("{} ({:?}, {:?})", info.name, info.device_type, info.backend);
    Ok((device, queue, name))
}
