//! The command line's grammar: one definition behind parser, help, man page and completions.

use crate::process::study::Share;
use clap::{Args, Parser, Subcommand, ValueHint};
use std::path::PathBuf;

/// From one parameter file to everything a small workshop needs to make an injection
/// mold, or a nozzle adaptor plate, for a hand-lever machine.
///
/// Without a command it makes the coaster package from the built-in starter file.
#[derive(Debug, Parser)]
#[command(
    name = "platewright",
    version,
    max_term_width = 100,
    after_help = "Exit codes: 0 fine; 1 made, but not released (a `stop` finding); 2 bad input, nothing \
                  written; 3 internal error, previous package untouched.\n\n\
                  Hot melt under pressure burns. Metal cutting, welding and lifting injure. The sheets carry \
                  the usual cautions; local codes and licensed practice come first."
)]
pub struct Arguments {
    /// What to do.
    #[command(subcommand)]
    pub command: Option<Command>,
    /// Options for every command.
    #[command(flatten)]
    pub common: Common,
}

/// Options that every command understands.
#[derive(Debug, Clone, Args)]
pub struct Common {
    /// Say only what went wrong
    #[arg(long, short, global = true)]
    pub quiet: bool,
    /// Say everything: every decision, and every finding with its reason
    #[arg(long, global = true)]
    pub long: bool,
    /// Answer in JSON, for programs
    #[arg(long, global = true)]
    pub json: bool,
    /// Folder that the package folder goes into
    #[arg(long, value_name = "DIR", default_value = "out", global = true, value_hint = ValueHint::DirPath)]
    pub out: PathBuf,
}

/// The commands.
#[derive(Debug, Clone, Subcommand)]
pub enum Command {
    /// Make the package of a parameter file
    Make {
        /// The parameter file
        #[arg(value_hint = ValueHint::FilePath)]
        file: PathBuf,
    },
    /// Check a parameter file and its design, and compute what cures each stop and warning; write nothing
    Check {
        /// The parameter file
        #[arg(value_hint = ValueHint::FilePath)]
        file: PathBuf,
        /// Findings only: do not look for what cures them
        #[arg(long)]
        fast: bool,
    },
    /// Show what differs between two parameter files or packages, with a page that shows both
    Compare {
        /// A parameter file, or the folder of a package
        #[arg(value_hint = ValueHint::AnyPath)]
        first: PathBuf,
        /// Another
        #[arg(value_hint = ValueHint::AnyPath)]
        second: PathBuf,
    },
    /// Name the values of a parameter file that stand in the way, as lines that were tried
    Remedy {
        /// The parameter file
        #[arg(value_hint = ValueHint::FilePath)]
        file: PathBuf,
        /// Write them into the file, one after the other, until nothing is left that one cures
        #[arg(long)]
        write: bool,
    },
    /// Write a commented starter file
    New {
        /// Name of the starter; left out, they are listed. With --ask: the file to write
        starter: Option<String>,
        /// File to write; left out, NAME.toml
        #[arg(value_hint = ValueHint::FilePath, conflicts_with = "ask")]
        file: Option<PathBuf>,
        /// Ask what is to be made, and on which machine, and write the answers
        #[arg(long)]
        ask: bool,
    },
    /// Say why a number is what it is: value, rule, inputs, source
    Why {
        /// The parameter file
        #[arg(value_hint = ValueHint::FilePath)]
        file: PathBuf,
        /// Dotted key such as bolts.count, or its beginning; or the code of a finding; left out,
        /// everything
        key: Option<String>,
    },
    /// Sweep one or two numbers of the file: fill, force, cycle and mass as table and plot
    Study {
        /// The parameter file
        #[arg(value_hint = ValueHint::FilePath)]
        file: PathBuf,
        /// What to sweep: KEY=FROM..TO, KEY=FROM..TO:STEPS or KEY=A,B,C; once or twice
        #[arg(long, required = true, value_name = "KEY=RANGE")]
        vary: Vec<String>,
        /// Compute only this share of the runs, such as 3/8: the others on other machines
        #[arg(long, value_name = "K/N")]
        share: Option<Share>,
        /// Compute nothing: put together what the shares in the study's folder have done
        #[arg(long, conflicts_with = "share")]
        merge: bool,
    },
    /// Learn from the first shots of a mold: NAME.shots.toml beside NAME.toml against what was
    /// computed, what to measure next, what to do; with --json also the fills behind it
    Shots {
        /// The parameter file
        #[arg(value_hint = ValueHint::FilePath)]
        file: PathBuf,
        /// Write what was learned of the plastic into a file NAME.grade, which other parameter
        /// files name by plastic.grade
        #[arg(long, value_name = "NAME.grade", value_hint = ValueHint::FilePath)]
        save_grade: Option<PathBuf>,
    },
    /// List every parameter file below a folder: released or not, metal, what was predicted and
    /// measured, as a table and a page
    Register {
        /// The folder
        #[arg(value_hint = ValueHint::DirPath)]
        folder: PathBuf,
    },
    /// Put a nozzle's thread into a mold's: turns, seal, what to buy instead
    Mate {
        /// External thread of the nozzle, "G 1/2", "R 1/2" or "1/2 NPT"; or the parameter file
        /// of a tool that the nozzle fits
        nozzle: String,
        /// Internal thread of the mold, "G 1/2", "Rp 1/2", "Rc 1/2" or "1/2 NPT"; or a mold's
        /// parameter file
        mold: String,
    },
    /// Show a page that follows the file: solids and findings at each save, then the fill; of a
    /// folder its files with picture and verdict, and the ways to a new one
    Live {
        /// The parameter file, or a folder with such files; left out, the folder one is in
        #[arg(value_hint = ValueHint::AnyPath)]
        file: Option<PathBuf>,
        /// Port of the page; left out, the first free one from 7411 on
        #[arg(long)]
        port: Option<u16>,
        /// Address to listen at; anything but a loopback address lets others in who know
        /// the page's key
        #[arg(long, value_name = "ADDRESS", default_value = "127.0.0.1")]
        address: std::net::IpAddr,
    },
    /// Write one page to learn from: threads, measuring, a first mold, every key and finding
    Guide {
        /// File to write
        #[arg(default_value = "guide.html", value_hint = ValueHint::FilePath)]
        file: PathBuf,
        /// Units of its tables and drawings
        #[arg(long, default_value = "metric", value_parser = ["metric", "inch"])]
        units: String,
    },
    /// Print the JSON schema of the parameter file, for editors
    Schema,
    /// Print a built-in table with its sources
    Tables {
        /// Name of the table, such as pipe-threads; left out, they are listed
        table: Option<String>,
    },
    /// Print shell completions
    Completions {
        /// The shell
        shell: clap_complete::Shell,
    },
    /// Print the manual page
    Man,
}
