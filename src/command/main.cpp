#include <sys/ioctl.h>
#include <unistd.h>

#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <exception>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <sstream>

#include "command.h"
#include "ringquell/error.h"
#include "ringquell/report.h"

namespace ringquell::command {

void add_case_options(CLI::App& verb, CaseOptions& options) {
    verb.add_option("CASE", options.file, "The case file (YAML)")->required();
    verb.add_option(
            "--set", options.settings,
            "Change the case: path.to.key=value, gate_path[2].inductance=9nH for one position; repeatable")
        ->type_name("KEY=VALUE")
        ->allow_extra_args(false)
        ->multi_option_policy(CLI::MultiOptionPolicy::TakeAll);
    verb.add_option("--json", options.json,
                    "Write the result as JSON to a file, or to standard output in place of the text (-)")
        ->type_name("FILE|-");
    verb.add_flag("--quiet", options.quiet, "Print the verdict alone");
}

int status_of(Verdict verdict) {
    if (verdict == Verdict::undecided) return untrusted;
    return verdict == Verdict::pass ? passes : fails;
}

std::string written_before(const std::string& file, const std::string& option, const std::string& expected) {
    std::ifstream in(file, std::ios::binary);
    std::ostringstream out;
    out << in.rdbuf();
    if (!in || std::filesystem::is_directory(file))
        throw InputError({file}, option, "cannot be read; expected " + expected);
    return out.str();
}

void keep_case(const std::string& output, const std::string& option, const std::string& case_file) {
    std::error_code ignored;
    if (!output.empty() && std::filesystem::equivalent(output, case_file, ignored))
        throw InputError({output}, option, "is the case itself; expected another file");
}

void write_output(const std::string& file, const std::string& text) {
    if (file == "-") {
        std::cout << text << std::flush;
        if (!std::cout) throw InputError({}, "standard output", "could not be written");
        return;
    }
    GrowingOutput out(file);
    out.add(text);
    out.finish();
}

GrowingOutput::GrowingOutput(const std::string& file)
    : file_(file),
      temporary_(file + "." + std::to_string(getpid()) + ".tmp"),
      out_(temporary_, std::ios::binary) {}

GrowingOutput::~GrowingOutput() {
    std::error_code ignored;
    if (!temporary_.empty()) std::filesystem::remove(temporary_, ignored);
}

void GrowingOutput::finish() {
    out_.close();
    std::error_code error;
    if (out_) std::filesystem::rename(temporary_, file_, error);
    if (!out_ || error)
        throw InputError(
            {file_}, "",
            "could not be written; expected a path in a folder that exists and may be written to");
    temporary_.clear();
}

void print_result(const CaseOptions& options, const std::string& text,
                  const std::function<std::string()>& json) {
    if (!options.json.empty()) write_output(options.json, json());
    if (options.json != "-") write_output("-", text);
}

int terminal_columns() {
    constexpr int usual = 80, widest = 160;
    winsize size{};
    if (ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) != 0 || size.ws_col == 0) return usual;
    return std::min<int>(size.ws_col, widest);
}

int plot_columns() {
    if (!isatty(STDOUT_FILENO)) return 0;
    const auto value = [](const char* name) -> std::string {
        const char* text = std::getenv(name);
        return text ? text : "";
    };
    if (value("TERM") == "dumb") return 0;
    // The first that is set decides, as POSIX has it.
    for (const char* name : {"LC_ALL", "LC_CTYPE", "LANG"}) {
        std::string locale = value(name);
        if (locale.empty()) continue;
        std::transform(locale.begin(), locale.end(), locale.begin(),
                       [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
        return locale.find("utf-8") != std::string::npos || locale.find("utf8") != std::string::npos
                   ? terminal_columns()
                   : 0;
    }
    return 0;
}

}  // namespace ringquell::command

int main(int argc, char** argv) {
    using namespace ringquell;
    using namespace ringquell::command;
    CLI::App app{
        "ringquell: will paralleled power devices oscillate against each other, why, and what is the least "
        "that cures it",
        "ringquell"};
    app.set_version_flag("--version", std::string("ringquell ") + version);
    app.require_subcommand(1);
    app.footer(std::string("Exit status: 0 passes, 1 fails the requirement, 2 the input is wrong, 3 the "
                           "numbers could not be trusted.\n\n") +
               caution);
    Run run;
    add_check(app, run);
    add_size(app, run);
    add_explain(app, run);
    add_choose(app, run);
    add_spread(app, run);
    add_report(app, run);
    add_bead(app, run);
    add_inductance(app, run);
    add_export(app, run);
    add_new(app, run);
    try {
        app.parse(argc, argv);
        return run();
    } catch (const CLI::ParseError& error) {
        const int status = app.exit(error, std::cout, std::cerr);
        return status == 0 ? passes : bad_input;
    } catch (const InputError& error) {
        std::cerr << "ringquell: " << error.what() << "\n";
        return bad_input;
    } catch (const NumericalError& error) {
        std::cerr << "ringquell: no verdict: " << error.what() << "\n";
        return untrusted;
    } catch (const std::bad_alloc&) {
        std::cerr << "ringquell: no verdict: not enough memory for this case\n";
        return untrusted;
    } catch (const std::exception& error) {
        std::cerr << "ringquell: no verdict: " << error.what() << "\n";
        return untrusted;
    }
}
