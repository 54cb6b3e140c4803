//! The machine's microphones.
//! Takes a microphone's name or part of it; gives its sound as it comes, one channel at 16 kHz, and says when it is gone. The only
//! place that knows sound devices. Leaves alone what becomes of the sound. Built without the feature `microphone`, `absent`
//! stands for it.
//!
//! "plughw:CARD=USB" listens to the one whose name begins so

use std::fmt;
use std::sync::{Arc, Mutex};

use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
use cpal::{BufferSize, Data, ErrorKind, FromSample, SampleFormat, SizedSample, StreamConfig, SupportedBufferSize};

use super::heard::{Heard, MicrophoneError};
use super::recording::SAMPLE_RATE_HZ;
use super::resample::Resampler;
use super::wave::whole;

/// Blocks a second that are asked for. Long enough that a busy machine misses none, short beside the second in which sound is to
/// be on the disk.
const BLOCKS_A_SECOND: u32 = 5;
/// Channels of a microphone at most.
const MAX_CHANNELS: u16 = 32;

/// A microphone that is listened to until this is dropped.
pub struct Microphone {
    name: String,
    _stream: cpal::Stream,
}

impl fmt::Debug for Microphone {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "Microphone({})", self.name)
    }
}

impl Microphone {
    /// Whether this program can listen to microphones.
    pub const BUILT_IN: bool = true;

    /// Names of the microphones; none where there is none.
    ///
    /// # Errors
    /// If the system tells of none.
    pub fn devices() -> Result<Vec<String>, MicrophoneError> {
        Ok(all(&host()?)?.into_iter().map(|(name, _)| name).collect())
    }

    /// Listens to the microphone of a name, of which a part is enough, or to the system's own choice. `take` gets its sound from
    /// a thread that must not be kept waiting; after [`Heard::Lost`] nothing more comes.
    ///
    /// # Errors
    /// If there is no such microphone, several are like it, or it cannot be listened to.
    pub fn open(device: Option<&str>, take: impl FnMut(Heard<'_>) + Send + 'static) -> Result<Self, MicrophoneError> {
        let host = host()?;
        // The system's choice has this name also where it is not among those that are told of.
        let asked = device.filter(|asked| !asked.eq_ignore_ascii_case("default"));
        let Some(asked) = asked else {
            let (name, device) = ("the system's microphone", host.default_input_device());
            let stream = listen(&device.ok_or(MicrophoneError::NoDevice)?, name, take);
            let stream = stream.map_err(|error| match error {
                // The system has a choice also where nothing is connected.
                MicrophoneError::Gone { .. } => MicrophoneError::NoDevice,
                error => error,
            })?;
            return Ok(Self { name: name.to_owned(), _stream: stream });
        };
        let (name, device) = chosen(all(&host)?, asked)?;
        let stream = listen(&device, &name, take)?;
        Ok(Self { name, _stream: stream })
    }

    /// Its name.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }
}

// Without the panic of the library's own way where the system's sound is not set up at all.
fn host() -> Result<cpal::Host, MicrophoneError> {
    quiet();
    let id = cpal::ALL_HOSTS.first().ok_or(MicrophoneError::NoDevice)?;
    cpal::host_from_id(*id).map_err(|error| failed(&error, "the system's sound"))
}

/// What the system's sound library has to say would stand in the middle of a terminal's text: it is told as an error anyway.
/// For the thread that calls this.
fn quiet() {
    #[cfg(target_os = "linux")]
    let _ = alsa::Output::local_error_handler();
}

fn all(host: &cpal::Host) -> Result<Vec<(String, cpal::Device)>, MicrophoneError> {
    let devices = host.input_devices().map_err(|error| failed(&error, "the system's sound"))?;
    let named = devices.filter_map(|device| Some((name(&device)?, device)));
    Ok(named.filter(|(name, _)| !name.split(' ').next().is_some_and(|id| NONE.contains(&id))).collect())
}

/// What ALSA tells of as if it were a device: silence, and converters that stand before one.
const NONE: [&str; 8] = ["null", "lavrate", "samplerate", "speexrate", "speex", "upmix", "vdownmix", "oss"];

/// What it is told apart by, and in words where the system has some: "plughw:CARD=USB,DEV=0 (USB Audio)".
fn name(device: &cpal::Device) -> Option<String> {
    let id = device.id().ok().map(|id| id.id().to_owned())?;
    let words = device.description().ok().map(|told| told.name().to_owned()).filter(|words| *words != id);
    Some(words.map_or(id.clone(), |words| format!("{id} ({words})")))
}

// Whole names come before beginnings, and those before other parts.
fn chosen<D>(all: Vec<(String, D)>, asked: &str) -> Result<(String, D), MicrophoneError> {
    let wanted = asked.trim().to_lowercase();
    let is_whole = |name: &str| name == wanted || name.split(" (").next() == Some(&wanted);
    let ways: [&dyn Fn(&str) -> bool; 3] =
        [&is_whole, &|name| name.starts_with(&wanted), &|name| name.contains(&wanted)];
    let names: Vec<String> = all.iter().map(|(name, _)| name.clone()).collect();
    for way in ways.into_iter().filter(|_| !wanted.is_empty()) {
        let like: Vec<&String> = names.iter().filter(|name| way(&name.to_lowercase())).collect();
        match like[..] {
            [] => {}
            [only] => {
                let found = all.into_iter().find(|(name, _)| name == only);
                return found.ok_or(MicrophoneError::NoDevice);
            }
            _ => {
                let like = like.into_iter().cloned().collect();
                return Err(MicrophoneError::Several { asked: asked.to_owned(), like });
            }
        }
    }
    if names.is_empty() {
        return Err(MicrophoneError::NoDevice);
    }
    Err(MicrophoneError::NoSuchDevice { asked: asked.to_owned(), there: names })
}

/// How a microphone gives its sound.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Form {
    format: SampleFormat,
    channels: u16,
    rate_hz: u32,
    /// Samples in a block, where that can be asked for.
    block: Option<u32>,
}

impl Form {
    /// The one that needs the least done to it.
    fn best(all: impl Iterator<Item = cpal::SupportedStreamConfigRange>) -> Option<Self> {
        let forms = all.filter_map(|range| {
            let rate_hz = SAMPLE_RATE_HZ.clamp(range.min_sample_rate(), range.max_sample_rate());
            let kind = FORMATS.iter().position(|format| *format == range.sample_format())?;
            let wanted = rate_hz / BLOCKS_A_SECOND;
            let block = match range.buffer_size() {
                SupportedBufferSize::Range { min, max } => Some(wanted.clamp(*min, (*max).max(*min))),
                SupportedBufferSize::Unknown => None,
            };
            let form = Self { format: range.sample_format(), channels: range.channels(), rate_hz, block };
            // What is above is lost with a lower rate; the rest is only work.
            let cost = (rate_hz < SAMPLE_RATE_HZ, rate_hz.abs_diff(SAMPLE_RATE_HZ), form.channels, kind);
            (1..=MAX_CHANNELS).contains(&form.channels).then_some((cost, form))
        });
        forms.min_by_key(|(cost, _)| *cost).map(|(_, form)| form)
    }

    fn config(self, block: Option<u32>) -> StreamConfig {
        let buffer_size = block.map_or(BufferSize::Default, BufferSize::Fixed);
        StreamConfig { channels: self.channels, sample_rate: self.rate_hz, buffer_size }
    }
}

/// Formats that can be read, the best first.
const FORMATS: [SampleFormat; 8] = [
    SampleFormat::I16,
    SampleFormat::I32,
    SampleFormat::F32,
    SampleFormat::F64,
    SampleFormat::U16,
    SampleFormat::U32,
    SampleFormat::I8,
    SampleFormat::U8,
];

fn listen(
    device: &cpal::Device,
    name: &str,
    take: impl FnMut(Heard<'_>) + Send + 'static,
) -> Result<cpal::Stream, MicrophoneError> {
    let wrong = |error: cpal::Error| failed(&error, name);
    let other = |said: String| MicrophoneError::Failed { device: name.to_owned(), said };
    let form = Form::best(device.supported_input_configs().map_err(wrong)?);
    let form = form.ok_or_else(|| other("it gives no sound that can be read".to_owned()))?;
    let take: Take = Arc::new(Mutex::new(take));
    let mut last = None;
    // A device may refuse the length of block that it said it knows.
    for block in if form.block.is_some() { vec![form.block, None] } else { vec![None] } {
        let mut making = Making::new(form, Arc::clone(&take)).map_err(other)?;
        let mut watch = Watch { name: name.to_owned(), take: Arc::clone(&take), is_lost: false };
        let sound = move |data: &Data, _: &cpal::InputCallbackInfo| making.take(data);
        let fault = move |error: cpal::Error| watch.tell(&error);
        match device.build_input_stream_raw(form.config(block), form.format, sound, fault, None) {
            Ok(stream) => return stream.play().map(|()| stream).map_err(wrong),
            Err(error) => last = Some(error),
        }
    }
    Err(last.map_or(MicrophoneError::NoDevice, wrong))
}

/// Says once that a microphone is gone.
struct Watch {
    name: String,
    take: Take,
    is_lost: bool,
}

impl Watch {
    fn tell(&mut self, error: &cpal::Error) {
        if is_the_end(error.kind()) && !std::mem::replace(&mut self.is_lost, true) {
            give(&self.take, Heard::Lost(failed(error, &self.name).to_string()));
        }
    }
}

/// Whether nothing more comes; a stretch that was missed, and the like, is not the end.
fn is_the_end(kind: ErrorKind) -> bool {
    !matches!(kind, ErrorKind::Xrun | ErrorKind::DeviceChanged | ErrorKind::RealtimeDenied | ErrorKind::DeviceBusy)
}

fn failed(error: &cpal::Error, device: &str) -> MicrophoneError {
    let device = device.to_owned();
    match error.kind() {
        ErrorKind::DeviceBusy => MicrophoneError::Busy { device },
        ErrorKind::PermissionDenied => MicrophoneError::NotAllowed { device },
        ErrorKind::DeviceNotAvailable => MicrophoneError::Gone { device },
        _ => MicrophoneError::Failed { device, said: error.to_string().trim_end_matches('.').to_lowercase() },
    }
}

/// Who gets what is heard.
type Take = Arc<Mutex<dyn FnMut(Heard<'_>) + Send>>;

fn give(take: &Take, heard: Heard<'_>) {
    // Whoever panicked with it in hand gets nothing more.
    if let Ok(mut take) = take.lock() {
        take(heard);
    }
}

/// Makes one channel at 16 kHz of what a microphone gives.
struct Making {
    form: Form,
    resampler: Resampler,
    mono: Vec<f32>,
    ready: Vec<f32>,
    samples: Vec<i16>,
    take: Take,
    begun: bool,
}

impl Making {
    fn new(form: Form, take: Take) -> Result<Self, String> {
        let resampler = Resampler::new(form.rate_hz)?;
        Ok(Self { form, resampler, mono: Vec::new(), ready: Vec::new(), samples: Vec::new(), take, begun: false })
    }

    fn take(&mut self, data: &Data) {
        if !std::mem::replace(&mut self.begun, true) {
            quiet();
        }
        let as_wanted = self.form.channels == 1 && self.form.rate_hz == SAMPLE_RATE_HZ;
        if let Some(samples) = data.as_slice::<i16>().filter(|_| as_wanted) {
            return give(&self.take, Heard::Samples(samples));
        }
        match self.form.format {
            SampleFormat::I16 => self.mix::<i16>(data.as_slice()),
            SampleFormat::I32 => self.mix::<i32>(data.as_slice()),
            SampleFormat::F32 => self.mix::<f32>(data.as_slice()),
            SampleFormat::F64 => self.mix::<f64>(data.as_slice()),
            SampleFormat::U16 => self.mix::<u16>(data.as_slice()),
            SampleFormat::U32 => self.mix::<u32>(data.as_slice()),
            SampleFormat::I8 => self.mix::<i8>(data.as_slice()),
            SampleFormat::U8 => self.mix::<u8>(data.as_slice()),
            _ => {}
        }
    }

    fn mix<T: SizedSample>(&mut self, samples: Option<&[T]>)
    where
        f32: FromSample<T>,
    {
        let channels = usize::from(self.form.channels);
        let frames = samples.unwrap_or_default().chunks_exact(channels);
        self.mono.clear();
        self.mono.extend(frames.map(|frame| {
            let sum: f32 = frame.iter().map(|sample| f32::from_sample_(*sample)).sum();
            let mean = sum / channels as f32;
            if mean.is_finite() { mean } else { 0.0 }
        }));
        self.ready.clear();
        // Only a rate that no resampler could be made for fails, and that was seen when it was made.
        if self.resampler.push(&self.mono, &mut self.ready).is_ok() && !self.ready.is_empty() {
            self.samples.clear();
            self.samples.extend(self.ready.iter().map(|sample| whole(*sample)));
            give(&self.take, Heard::Samples(&self.samples));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn range(channels: u16, rates: (u32, u32), format: SampleFormat) -> cpal::SupportedStreamConfigRange {
        let block = SupportedBufferSize::Range { min: 64, max: 4096 };
        cpal::SupportedStreamConfigRange::new(channels, rates.0, rates.1, block, format)
    }

    #[test]
    fn the_form_that_needs_the_least_work_is_asked_for() {
        let check = |all: Vec<cpal::SupportedStreamConfigRange>, channels: u16, rate_hz: u32, format: SampleFormat| {
            let form = Form::best(all.into_iter()).unwrap();
            assert_eq!((form.channels, form.rate_hz, form.format), (channels, rate_hz, format));
        };
        let anything = (4000, 192_000);
        let all = vec![
            range(2, anything, SampleFormat::I16),
            range(1, anything, SampleFormat::F32),
            range(1, anything, SampleFormat::I16),
        ];
        check(all, 1, 16_000, SampleFormat::I16);
        check(
            vec![range(2, (44_100, 44_100), SampleFormat::I16), range(2, (48_000, 48_000), SampleFormat::I32)],
            2,
            44_100,
            SampleFormat::I16,
        );
        check(
            vec![range(1, (8000, 8000), SampleFormat::I16), range(2, (48_000, 48_000), SampleFormat::I16)],
            2,
            48_000,
            SampleFormat::I16,
        );
        assert_eq!(Form::best([range(1, anything, SampleFormat::DsdU8)].into_iter()), None);
        assert_eq!(Form::best([range(1, anything, SampleFormat::I16)].into_iter()).unwrap().block, Some(3200));
    }

    #[test]
    fn a_name_is_found_by_any_part_that_is_its_own() {
        let all = || -> Vec<(String, usize)> {
            let names = [
                "default (Default Audio Device)",
                "hw:CARD=USB,DEV=0 (USB Audio)",
                "plughw:CARD=USB,DEV=0 (USB Audio)",
            ];
            names.into_iter().map(str::to_owned).zip(0..).collect()
        };
        let check = |asked: &str, found: usize| assert_eq!(chosen(all(), asked).unwrap().1, found, "{asked}");
        check("default", 0);
        check("Default Audio", 0);
        check("hw:card=usb,dev=0", 1);
        check("hw", 1);
        check("plug", 2);
        let told = |asked: &str| chosen(all(), asked).unwrap_err().to_string();
        assert_eq!(
            told("usb audio"),
            "`usb audio` may be any of these microphones, give more of its name: hw:CARD=USB,DEV=0 (USB Audio); \
             plughw:CARD=USB,DEV=0 (USB Audio)"
        );
        assert!(told("bluetooth").starts_with("there is no microphone `bluetooth`; there are: default (Default"));
        assert!(told(" ").starts_with("there is no microphone ` `"));
        assert_eq!(chosen::<usize>(Vec::new(), "x").unwrap_err(), MicrophoneError::NoDevice);
    }

    #[test]
    fn other_rates_and_channels_become_ours() {
        let heard = Arc::new(Mutex::new(Vec::new()));
        let own = Arc::clone(&heard);
        let take: Take = Arc::new(Mutex::new(move |given: Heard<'_>| {
            if let Heard::Samples(samples) = given {
                own.lock().unwrap().extend_from_slice(samples);
            }
        }));
        let form = Form { format: SampleFormat::I32, channels: 2, rate_hz: 48_000, block: None };
        let mut making = Making::new(form, take).unwrap();
        let tone = |at: usize, rate: f64| (2.0 * std::f64::consts::PI * 440.0 * at as f64 / rate).sin();
        // The left channel alone: half as loud.
        let frames: Vec<i32> = (0..96_000).flat_map(|at| [(tone(at, 48_000.0) * 1e9) as i32, 0]).collect();
        for block in frames.chunks(2 * 480) {
            making.mix(Some(block));
        }
        let heard = heard.lock().unwrap();
        assert!(heard.len() > 29_000, "{}", heard.len());
        for (at, sample) in heard.iter().enumerate().skip(1000) {
            let wanted = tone(at, 16_000.0) * 1e9 / 65_536.0 / 2.0;
            assert!((f64::from(*sample) - wanted).abs() < 100.0, "{at}: {sample} is not {wanted}");
        }
    }

    #[test]
    fn a_microphone_that_is_gone_is_told_once_and_a_stretch_that_was_missed_is_not_the_end() {
        let told = Arc::new(Mutex::new(Vec::new()));
        let own = Arc::clone(&told);
        let take: Take = Arc::new(Mutex::new(move |heard: Heard<'_>| own.lock().unwrap().push(format!("{heard:?}"))));
        let mut watch = Watch { name: "usb".to_owned(), take, is_lost: false };
        for kind in [ErrorKind::Xrun, ErrorKind::DeviceNotAvailable, ErrorKind::DeviceNotAvailable, ErrorKind::Other] {
            watch.tell(&cpal::Error::new(kind));
        }
        let lost = "Lost(\"usb is not connected, or is no microphone: connect it, or choose another\")";
        assert_eq!(*told.lock().unwrap(), [lost]);
        let said = |kind| failed(&cpal::Error::new(kind), "usb").to_string();
        assert_eq!(
            said(ErrorKind::DeviceBusy),
            "usb is in use by another program: close that, or choose another microphone"
        );
        assert!(said(ErrorKind::PermissionDenied).starts_with("this program may not listen to usb"));
        assert_eq!(said(ErrorKind::Other), "usb cannot be listened to (an error occurred): choose another microphone");
    }
}
