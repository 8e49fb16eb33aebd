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
#include <thread>

#include "command/command.h"
#include "ringquell/error.h"
#include "ringquell/read_case.h"
#include "ringquell/report.h"

namespace ringquell::command {

Argument add_case_options(Verb& verb, CaseOptions& options) {
    Argument file = verb.option("CASE", options.file, "The case file (YAML)").required();
    add_common_options(verb, options);
    return file;
}

void add_common_options(Verb& verb, CaseOptions& options) {
    verb.option(
            "--set", options.settings,
            "Change the case: path.to.key=value, gate_path[2].inductance=9nH for one position; repeatable")
        .type("KEY=VALUE")
        .repeatable();
    add_file_option(verb, "--json", options.json,
                    "Write the result as JSON to a file, or to standard output in place of the text (-)",
                    "FILE|-");
    verb.flag("--quiet", options.quiet, "Print the verdict alone");
}

Argument add_file_option(Verb& verb, const std::string& names, std::string& file,
                         const std::string& description, const std::string& type) {
    return verb.option(names, file, description).type(type).not_empty("found an empty name; expected a file");
}

Case read_apart(const CaseOptions& options, const std::vector<Output>& others) {
    std::vector<std::string> files_read;
    Case out = read_case(options.file, options.settings, &files_read);
    std::vector<Output> outputs{{"--json", options.json}};
    outputs.insert(outputs.end(), others.begin(), others.end());
    keep_apart(outputs, files_read);
    return out;
}

int status_of(Verdict verdict) {
    if (verdict == Verdict::undecided) return untrusted;
    return verdict == Verdict::pass ? passes : fails;
}

std::vector<std::string> yaml_files(const std::string& folder) {
    std::vector<std::string> out;
    for (const auto& entry : std::filesystem::directory_iterator(folder)) {
        const std::string extension = entry.path().extension().string();
        if (entry.is_regular_file() && (extension == ".yaml" || extension == ".yml"))
            out.push_back(entry.path().string());
    }
    std::sort(out.begin(), out.end());
    return out;
}

int threads_of(int asked) {
    return asked > 0 ? asked : std::max(1, static_cast<int>(std::thread::hardware_concurrency()));
}

std::string written_before(const std::string& file, const std::string& option, const std::string& expected) {
    std::ifstream in(file, std::ios::binary);
    std::ostringstream out;
    out << in.rdbuf();
    if (!in || std::filesystem::is_directory(file))
        throw InputError({file}, option, "cannot be read; expected " + expected);
    return out.str();
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
    CommandLine line(
        "ringquell",
        "ringquell: will paralleled power devices oscillate against each other, why, and what is the "
        "least that cures it",
        std::string("ringquell ") + version,
        std::string("Exit status: 0 passes, 1 fails the requirement, 2 the input is wrong, 3 the numbers "
                    "could not be trusted.\n\n") +
            caution);
    add_check(line);
    add_size(line);
    add_explain(line);
    add_choose(line);
    add_compare(line);
    add_cure(line);
    add_calibrate(line);
    add_spread(line);
    add_report(line);
    add_bead(line);
    add_inductance(line);
    add_export(line);
    add_pickup(line);
    add_new(line);
    remove_temporaries_on_signals();
    try {
        if (const auto status = line.parse(argc, argv, bad_input)) return *status;
        return line.run();
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
