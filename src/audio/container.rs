//! A container's sound track as packets, each with its true time.
//! Takes a source of bytes that can be sought, and where its Ogg pages were lost; finds the container by content, chooses
//! the first sound track and gives its packets and their decoded sound. Leaves alone what to do about gaps (`timeline`).
//! "visit.m4a" → packets of 1024 frames at 0 ms, 23 ms, 46 ms, …

use std::collections::VecDeque;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::LazyLock;

use symphonia::core::audio::GenericAudioBufferRef;
use symphonia::core::codecs::CodecParameters;
use symphonia::core::codecs::audio::{AudioCodecParameters, AudioDecoder, AudioDecoderOptions};
use symphonia::core::codecs::registry::CodecRegistry;
use symphonia::core::common::Limit;
use symphonia::core::errors::{Error, Result as Decoded};
use symphonia::core::formats::probe::{Hint, Probe, ProbeOptions};
use symphonia::core::formats::{FormatOptions, FormatReader, Track, TrackType};
use symphonia::core::io::{MediaSource, MediaSourceStream, ReadOnlySource};
use symphonia::core::meta::MetadataOptions;
use symphonia::core::packet::Packet;
use symphonia::core::units::{Duration, TimeBase, Timestamp};

use super::error::AudioError;
use super::pages::Loss;

/// Rates outside of these are mistakes of the header; 768 kHz is the highest that recorders offer.
const RATES_HZ: std::ops::RangeInclusive<u32> = 1000..=768_000;
const MAX_CHANNELS: usize = 32;
/// Formats are looked for in so many bytes at the start: a large file of another kind must not be searched for something
/// that happens to look like sound.
const MAX_JUNK_BYTES: u32 = 64 * 1024;
/// Bytes of a tag or a picture that are read at most; they are not used.
const MAX_TAG_BYTES: usize = 1024 * 1024;

static PROBE: LazyLock<Probe> = LazyLock::new(|| {
    let mut probe =
        Probe::new_with_options(&ProbeOptions { max_probe_depth: MAX_JUNK_BYTES, ..ProbeOptions::default() });
    symphonia::default::register_enabled_formats(&mut probe);
    probe
});

static CODECS: LazyLock<CodecRegistry> = LazyLock::new(|| {
    let mut codecs = CodecRegistry::new();
    symphonia::default::register_enabled_codecs(&mut codecs);
    codecs.register_audio_decoder::<symphonia_adapter_libopus::OpusDecoder>();
    codecs
});

/// Opens the source, from its start each time.
pub(crate) type SourceOpener<'a> = dyn Fn() -> Result<Box<dyn MediaSource>, AudioError> + 'a;

/// An opened container and the decoder of its sound track.
pub(crate) struct Container {
    format: Box<dyn FormatReader>,
    decoder: Box<dyn AudioDecoder>,
    track_id: u32,
    time_base: Option<TimeBase>,
    stated: Option<f64>,
    losses: Vec<Loss>,
    /// Packets read ahead behind a loss.
    held: VecDeque<Packet>,
    /// What the demuxer took too little for the times of the next `n_late` packets, in track units.
    late: Duration,
    n_late: usize,
}

/// A packet, and where its sound begins.
pub(crate) struct Timed {
    pub(crate) packet: Packet,
    /// Seconds on the container's clock, which need not start at 0; none where the container has no clock.
    pub(crate) at: Option<f64>,
    /// Seconds that its sound lasts, as stated.
    pub(crate) lasts: f64,
}

impl Container {
    /// Finds the format and the sound track of what `open_source` opens; `file` is the name for messages.
    pub(crate) fn open(open_source: &SourceOpener<'_>, losses: Vec<Loss>, file: &str) -> Result<Self, AudioError> {
        let format = match probed(open_source()?, file) {
            // Some readers refuse a file whose headers promise more bytes than it has. Told no length and not allowed to
            // look ahead, they read up to where it was cut.
            Err(fault @ (AudioError::Damaged { .. } | AudioError::Unsupported { .. })) => {
                probed(Box::new(ReadOnlySource::new(open_source()?)), file).map_err(|_| fault)?
            }
            other => other?,
        };
        let (track, params) = sound_track(format.as_ref(), file)?;
        let decoder = decoder_of(&params, file)?;
        let mut opened = Self {
            track_id: track.id,
            time_base: track.time_base,
            stated: None,
            losses,
            held: VecDeque::new(),
            late: Duration::ZERO,
            n_late: 0,
            decoder,
            format,
        };
        opened.stated = opened.stated_length(&track, params.sample_rate);
        Ok(opened)
    }

    /// Short name of the container.
    pub(crate) fn name(&self) -> &'static str {
        self.format.format_info().short_name
    }

    /// Short name of the codec.
    pub(crate) fn codec(&self) -> &'static str {
        self.decoder.codec_info().short_name
    }

    /// Seconds of sound that the file says it holds; none where it does not say, or where the reader only estimates.
    pub(crate) fn stated_seconds(&self) -> Option<f64> {
        self.stated
    }

    /// Whether pages are missing before the first sound: then its clock starts at 0.
    pub(crate) fn lost_its_beginning(&self) -> bool {
        self.losses.iter().any(|loss| loss.serial == self.track_id && loss.before == 0)
    }

    /// The sound track's next packet; none at the end.
    pub(crate) fn next(&mut self) -> Decoded<Option<Timed>> {
        let packet = match self.held.pop_front() {
            Some(held) => held,
            None => match self.next_of_track()? {
                Some(fresh) => {
                    self.look_behind_loss(&fresh);
                    fresh
                }
                None => return Ok(None),
            },
        };
        let mut starts = packet.pts.saturating_add(packet.trim_start);
        if self.n_late > 0 {
            starts = starts.saturating_add(self.late);
            self.n_late -= 1;
        }
        let seconds = |ticks: Timestamp| self.time_base.and_then(|base| base.calc_time(ticks)).map(|t| t.as_secs_f64());
        let lasts = i64::try_from(packet.dur.get()).ok().and_then(|ticks| seconds(Timestamp::new(ticks)));
        Ok(Some(Timed { at: seconds(starts), lasts: lasts.unwrap_or(0.0), packet }))
    }

    /// The packet's sound.
    pub(crate) fn decode(&mut self, packet: &Packet) -> Decoded<GenericAudioBufferRef<'_>> {
        guarded(|| self.decoder.decode(packet).map(|_| ()))?;
        Ok(self.decoder.last_decoded())
    }

    /// Starts on the next part of a file made of several, end to end, when the reader asks for it.
    pub(crate) fn next_part(&mut self, file: &str) -> Result<(), AudioError> {
        let (track, params) = sound_track(self.format.as_ref(), file)?;
        self.decoder = decoder_of(&params, file)?;
        self.track_id = track.id;
        self.time_base = track.time_base;
        self.stated = None;
        self.held.clear();
        self.n_late = 0;
        Ok(())
    }

    fn next_of_track(&mut self) -> Decoded<Option<Packet>> {
        loop {
            match guarded(|| self.format.next_packet())? {
                Some(packet) if packet.track_id != self.track_id => {}
                found => return Ok(found),
            }
        }
    }

    /// The first page behind a loss comes with times that follow on from the page before, as if nothing were lost: only
    /// its end is right. All of its packets must be at hand to say where they begin.
    fn look_behind_loss(&mut self, first: &Packet) {
        let is_here = |loss: &Loss| loss.serial == self.track_id && loss.before == first.pts.get();
        let Some(loss) = self.losses.iter().position(is_here).map(|place| self.losses.remove(place)) else {
            return;
        };
        let mut sound = first.block_dur();
        for _ in 1..loss.n_packets {
            // A fault here ends the page early; it shows again when the next packet is asked for.
            let Ok(Some(packet)) = self.next_of_track() else { break };
            sound = sound.saturating_add(packet.block_dur());
            self.held.push_back(packet);
        }
        self.late = Timestamp::new(loss.after).abs_delta(Timestamp::new(loss.before)).saturating_sub(sound);
        self.n_late = 1 + self.held.len();
    }

    fn stated_length(&self, track: &Track, rate_hz: Option<u32>) -> Option<f64> {
        // Without the header frame that names delay and count, an mp3's length is an estimate from its size.
        if matches!(self.name(), "mp1" | "mp2" | "mp3" | "aac") && track.delay.is_none() {
            return None;
        }
        let length =
            |base: Option<TimeBase>, duration: Option<Duration>| Some(base?.calc_duration(duration?)?.as_secs_f64());
        let media = self.format.media_info();
        length(track.time_base, track.duration)
            .or_else(|| Some(track.num_frames? as f64 / f64::from(rate_hz?)))
            .or_else(|| length(media.time_base, media.duration))
    }
}

/// A decoded buffer's or a header's rate, if it is one that can be.
pub(crate) fn checked_rate(rate_hz: u32, file: &str) -> Result<u32, AudioError> {
    let wrong = AudioError::SampleRate { file: file.to_owned(), rate_hz };
    if RATES_HZ.contains(&rate_hz) { Ok(rate_hz) } else { Err(wrong) }
}

/// A decoded buffer's or a header's number of channels, if it is one that can be.
pub(crate) fn checked_channels(channels: usize, file: &str) -> Result<usize, AudioError> {
    let wrong = AudioError::Channels { file: file.to_owned(), channels };
    if (1..=MAX_CHANNELS).contains(&channels) { Ok(channels) } else { Err(wrong) }
}

/// Runs a step of the decoding library; should it panic, gives a fault instead.
///
/// Crafted headers make the library panic where overflow is checked: a wav of 65,535 channels of 16 bits multiplies beyond
/// its type, a fragmented mp4 with a wrong size subtracts below 0. Both were met by changing bytes at random, and a
/// file from outside must not end the program. What panicked is not asked for anything again, or only for what it
/// decoded before, so that a half-changed state does no harm.
fn guarded<T>(step: impl FnOnce() -> Decoded<T>) -> Decoded<T> {
    catch_unwind(AssertUnwindSafe(step)).unwrap_or(Err(Error::LimitError("the decoder gave up")))
}

fn probed(source: Box<dyn MediaSource>, file: &str) -> Result<Box<dyn FormatReader>, AudioError> {
    let stream = MediaSourceStream::new(source, Default::default());
    let meta = MetadataOptions::default()
        .limit_tag_bytes(Limit::Maximum(MAX_TAG_BYTES))
        .limit_visual_bytes(Limit::Maximum(MAX_TAG_BYTES));
    guarded(|| PROBE.probe(&Hint::new(), stream, FormatOptions::default(), meta))
        .map_err(|fault| not_opened(&fault, file))
}

fn sound_track(format: &dyn FormatReader, file: &str) -> Result<(Track, AudioCodecParameters), AudioError> {
    let track = format.first_track_known_codec(TrackType::Audio).or_else(|| format.first_track(TrackType::Audio));
    let params = track.and_then(|track| track.codec_params.as_ref()).and_then(CodecParameters::audio);
    let (Some(track), Some(params)) = (track, params) else {
        let container = format.format_info().short_name.to_owned();
        return Err(AudioError::NoSoundTrack { file: file.to_owned(), container });
    };
    if let Some(rate_hz) = params.sample_rate {
        checked_rate(rate_hz, file)?;
    }
    if let Some(channels) = &params.channels {
        checked_channels(channels.count(), file)?;
    }
    Ok((track.clone(), params.clone()))
}

fn decoder_of(params: &AudioCodecParameters, file: &str) -> Result<Box<dyn AudioDecoder>, AudioError> {
    guarded(|| CODECS.make_audio_decoder(params, &AudioDecoderOptions::default()))
        .map_err(|fault| AudioError::Unsupported { file: file.to_owned(), detail: fault.to_string() })
}

/// Why the container could not be opened. "No suitable format reader" is the probe's word for "this is no sound".
fn not_opened(fault: &Error, file: &str) -> AudioError {
    let (file, detail) = (file.to_owned(), fault.to_string());
    match fault {
        Error::Unsupported(what) if what.contains("no suitable format reader") => AudioError::NotSound { file },
        // The index of an m4a and the body of a webm are missing where a recorder was stopped too early.
        Error::Unsupported(what) if what.contains("missing") => AudioError::Damaged { file, detail },
        Error::Unsupported(_) => AudioError::Unsupported { file, detail },
        // A wav of 64 channels is not damaged: the reader knows no more than 32.
        Error::DecodeError(what) if what.contains("channel count") => AudioError::Unsupported { file, detail },
        _ => AudioError::Damaged { file, detail },
    }
}
