// The one writer of all verbs: a file appears whole or not at all, and nothing that was read, nor what is no
// plain file, is ever replaced.
#pragma once

#include <sys/types.h>

#include <string>
#include <string_view>
#include <vector>

namespace ringquell::command {

/// A file to be written, and the option that names it. "-" is standard output, empty is none.
struct Output {
    std::string option;
    std::string file;
};

/// Throws InputError where an output is one of the files that were read (a plain file of the same device and
/// inode, whatever its name), or would be written over another output, or over the file that standard output
/// goes to. `first` says what the first file read is.
void keep_apart(const std::vector<Output>& outputs, const std::vector<std::string>& read,
                const std::string& first = "the case");

/// Writes the whole text to `file` ("-": standard output). Throws InputError where that fails.
void write_output(const std::string& file, const std::string& text);

/// The same for a file that grows line by line.
///
/// Symbolic links are followed first, so that they stay. A plain file, or none yet, is written by way of a
/// temporary beside it, NAME.ringquell-PID.tmp, and keeps its mode; temporaries that a killed process has
/// left for the same name are removed. Anything else that exists (a pipe, a device), and a descriptor of this
/// process (/dev/stdout, /dev/fd/3), is opened and written through.
class GrowingOutput {
  public:
    /// Throws InputError where the file cannot be opened, as `add` and `finish` do where it cannot be
    /// written.
    explicit GrowingOutput(const std::string& file);
    ~GrowingOutput();
    GrowingOutput(const GrowingOutput&) = delete;
    GrowingOutput& operator=(const GrowingOutput&) = delete;
    void add(std::string_view text);
    /// The file appears.
    void finish();

  private:
    void open_temporary(mode_t mode);
    void flush();
    void give_up() noexcept;
    [[noreturn]] void fail(int error);

    std::string file_;       // as it was named
    std::string target_;     // the file itself, links followed
    std::string temporary_;  // empty: written through
    std::string waiting_;
    int descriptor_ = -1;
};

/// From now on a signal that ends the process (SIGINT, SIGTERM, SIGHUP, SIGQUIT, SIGPIPE, SIGXCPU) first
/// removes the temporaries of outputs that are not finished. What is ignored stays ignored.
void remove_temporaries_on_signals();

/// While it lives, SIGINT and SIGTERM ask for an early end and nothing more; a second one ends the process.
class Interruption {
  public:
    Interruption();
    ~Interruption();
    Interruption(const Interruption&) = delete;
    Interruption& operator=(const Interruption&) = delete;
    static bool asked();
};

}  // namespace ringquell::command
