//! A microphone that is none: the system's sound library plays a sample as if somebody spoke.
//! Takes this test program started anew as a child, with a configuration of ALSA of its own; fails where another sound is heard than
//! was played, an error is unclear, or anything is printed beside it. Leaves alone real devices, which no machine of ours has.

/// Elsewhere there is no sound library that plays a file as a microphone.
#[cfg(not(all(target_os = "linux", feature = "microphone")))]
#[test]
fn left_out_where_there_is_no_alsa() {
    use spoken_exam::audio::{Microphone, MicrophoneError};
    println!("left out: this program was built without microphones, or not for Linux");
    if !Microphone::BUILT_IN {
        assert_eq!(Microphone::devices(), Err(MicrophoneError::NotBuiltIn));
        let told = Microphone::open(None, |_| ()).expect_err("there is none").to_string();
        assert!(told.starts_with("this program was built without microphones: build it with"), "{told}");
    }
}

#[cfg(all(target_os = "linux", feature = "microphone"))]
mod alsa {
    use std::fs;
    use std::path::{Path, PathBuf};
    use std::process::{Command, Output};
    use std::sync::mpsc;
    use std::time::Duration;

    use spoken_exam::audio::{Heard, Microphone, read};

    /// What the child is to do: the name of a microphone (empty for the system's choice), and how many samples to hear.
    const TASK: &str = "SPOKEN_EXAM_CHILD_MICROPHONE";

    /// No test: what the tests below start as a process of its own, as ALSA reads its configuration once. Without a task it does
    /// nothing.
    #[test]
    fn a_child_that_listens() {
        let Ok(task) = std::env::var(TASK) else { return };
        let (name, count) = task.split_once('\n').expect("a name and a count");
        let count: usize = count.parse().expect("a number");
        match Microphone::devices() {
            Ok(devices) => println!("\ndevices {}", devices.join("; ")),
            Err(error) => println!("\nerror {error}"),
        }
        let (give, heard) = mpsc::sync_channel(100);
        let opened = Microphone::open(Some(name).filter(|name| !name.is_empty()), move |sound| {
            let sound = match sound {
                Heard::Samples(samples) => Ok(samples.to_vec()),
                Heard::Lost(why) => Err(why),
            };
            let _ = give.send(sound);
        });
        let microphone = match opened {
            Ok(microphone) => microphone,
            Err(error) => return println!("error {error}"),
        };
        println!("open {}", microphone.name());
        let mut samples: Vec<i16> = Vec::new();
        while samples.len() < count {
            match heard.recv_timeout(Duration::from_secs(10)) {
                Ok(Ok(more)) => samples.extend(more),
                Ok(Err(why)) => return println!("lost {why}"),
                Err(_) => return println!("silent after {}", samples.len()),
            }
        }
        // Dropping waits for the thread, which may wait for a place in the queue.
        drop(heard);
        drop(microphone);
        let bytes: Vec<u8> = samples.iter().flat_map(|sample| sample.to_le_bytes()).collect();
        fs::write(std::env::var("SPOKEN_EXAM_CHILD_HEARD").expect("a path"), bytes).expect("it can be written");
        println!("heard {}", samples.len());
    }

    /// A folder with a sample as raw sound, and a configuration in which it is the microphone.
    fn set_up(folder: &Path, others: &str) -> PathBuf {
        let played =
            read(Path::new("samples/quick-term-boy.flac")).expect("a sample").samples.all().expect("it lies in memory");
        let bytes: Vec<u8> =
            played.iter().flat_map(|sample| ((sample * 32_768.0).round() as i16).to_le_bytes()).collect();
        fs::write(folder.join("played.raw"), bytes).expect("it can be written");
        let shown = folder.display();
        let text = format!(
            "pcm.null {{ type null }}\n\
             pcm.!default {{ type file slave.pcm null file /dev/null infile {shown}/played.raw format raw \
             hint {{ show on description \"The sample\" }} }}\n{others}"
        );
        let path = folder.join("asound.conf");
        fs::write(&path, text).expect("it can be written");
        path
    }

    fn listen(folder: &Path, configuration: &Path, name: &str, count: usize) -> Output {
        let mut command = Command::new(std::env::current_exe().expect("this program"));
        command.args(["--exact", "microphone::alsa::a_child_that_listens", "--nocapture", "--test-threads=1"]);
        command.env(TASK, format!("{name}\n{count}")).env("ALSA_CONFIG_PATH", configuration);
        command.env("SPOKEN_EXAM_CHILD_HEARD", folder.join("heard.raw"));
        command.output().expect("it starts")
    }

    fn lines(output: &Output) -> Vec<String> {
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(said, "", "nothing is printed beside what is told");
        String::from_utf8_lossy(&output.stdout).lines().map(str::to_owned).collect()
    }

    #[track_caller]
    fn told(lines: &[String], beginning: &str) -> String {
        let line = lines.iter().find_map(|line| line.strip_prefix(beginning));
        line.unwrap_or_else(|| panic!("nothing begins with {beginning:?} in {lines:?}")).to_owned()
    }

    #[test]
    fn what_is_played_is_heard_bit_for_bit() {
        let folder = tempfile::tempdir().expect("a folder");
        let configuration = set_up(folder.path(), "");
        let played = fs::read(folder.path().join("played.raw")).expect("it was written");
        let count = played.len() / 2;
        for name in ["", "default", "the sample"] {
            let output = listen(folder.path(), &configuration, name, count);
            let lines = lines(&output);
            assert_eq!(told(&lines, "devices "), "default (The sample)");
            told(&lines, "heard ");
            let heard = fs::read(folder.path().join("heard.raw")).expect("it was heard");
            assert!(heard.len() >= played.len() && heard[..played.len()] == played[..], "another sound was heard");
            fs::remove_file(folder.path().join("heard.raw")).expect("it can be removed");
        }
        println!("{count} samples were heard as they were played, three times");
    }

    #[test]
    fn what_cannot_be_listened_to_is_told_in_one_line() {
        let folder = tempfile::tempdir().expect("a folder");
        let others = "pcm.broken { type hw card 7 hint { show on description \"A card\" } }\n\
                      pcm.other { type hw card 8 hint { show on description \"A card\" } }\n";
        let configuration = set_up(folder.path(), others);
        let error = |name: &str| told(&lines(&listen(folder.path(), &configuration, name, 1)), "error ");
        assert!(
            error("bluetooth").starts_with("there is no microphone `bluetooth`; there are: "),
            "{}",
            error("bluetooth")
        );
        assert!(error("bluetooth").contains("default (The sample)"), "{}", error("bluetooth"));
        assert!(error("a card").starts_with("`a card` may be any of these microphones"), "{}", error("a card"));
        assert_eq!(
            error("broken"),
            "broken (A card) is not connected, or is no microphone: connect it, or choose another"
        );
        let nothing = folder.path().join("empty.conf");
        fs::write(&nothing, "").expect("it can be written");
        let lines = lines(&listen(folder.path(), &nothing, "", 1));
        assert_eq!(
            told(&lines, "error "),
            "no microphone was found: connect one, choose one by its name, or give the sound on standard input"
        );
    }
}
