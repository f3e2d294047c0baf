//! `cagewise manual`: the man page.

use std::io;

use clap::CommandFactory;
use clap_mangen::Man;
use clap_mangen::roff::{Roff, roman};

use super::Outcome;
use super::args::Arguments;
use super::failure::Failure;
use super::output::print_bytes;

/// Prints the man page, commands included.
pub fn run() -> Result<Outcome, Failure> {
    let mut text = Vec::new();
    write_page(&mut text)?;
    print_bytes(&text)?;
    Ok(Outcome::Done)
}

fn write_page(out: &mut Vec<u8>) -> io::Result<()> {
    let mut program = Arguments::command().disable_help_subcommand(true);
    program.build();
    let page = Man::new(program.clone());
    page.render_title(out)?;
    page.render_name_section(out)?;
    page.render_synopsis_section(out)?;
    page.render_description_section(out)?;
    for command in program.get_subcommands() {
        let part = Man::new(command.clone());
        let title = format!("cagewise {}", command.get_name());
        Roff::new()
            .control("SH", [title.to_uppercase().as_str()])
            .to_writer(out)?;
        let mut body = Vec::new();
        part.render_synopsis_section(&mut body)?;
        part.render_description_section(&mut body)?;
        part.render_options_section(&mut body)?;
        // The parts of a command's own page become parts of its section here.
        let body = String::from_utf8_lossy(&body).replace("\n.SH ", "\n.SS ");
        out.extend_from_slice(body.as_bytes());
    }
    let mut end = Roff::new();
    end.control("SH", ["EXIT STATUS"]);
    end.text([roman(
        "0: done. 1: done, and a risk is above the limit set by --fail-above. 2: the input or the \
         request is at fault; one line on stderr says what and how to mend it, and nothing has \
         been written for that cage.",
    )]);
    end.to_writer(out)
}
