// What becomes of files: outputs that are pipes, devices and links, outputs that are inputs, and runs that
// are ended by a signal.
#include <doctest/doctest.h>
#include <fcntl.h>
#include <signal.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <nlohmann/json.hpp>
#include <thread>

#include "support/run_command.h"
#include "test_paths.h"

using nlohmann::json;

namespace {

const std::string cases = std::string(RINGQUELL_CASES) + "/";
const std::string quick = "check '" + cases + "ice-rink-cascode.yaml' --quiet";

json parsed(const std::string& text) {
    return json::parse(text, nullptr, false);
}

mode_t mode_of(const std::string& file) {
    struct stat status {};
    REQUIRE(stat(file.c_str(), &status) == 0);
    return status.st_mode & 07777;
}

/// The case of the ski lift with all its parts, to be overwritten if that were so.
void copy_cases(const Folder& folder) {
    for (const char* name : {"ski-lift-curves.yaml", "ropeway-cured.yaml", "parts"})
        fs::copy(cases + name, folder.path / name, fs::copy_options::recursive);
}

std::string contents_below(const fs::path& folder) {
    std::vector<fs::path> files;
    for (const auto& entry : fs::recursive_directory_iterator(folder))
        if (entry.is_regular_file()) files.push_back(entry.path());
    std::sort(files.begin(), files.end());
    std::string out;
    for (const fs::path& file : files) out += file.string() + "\n" + content(file);
    return out;
}

/// The command in the background, in a folder, its outputs to `out` and `err` there.
class Running {
  public:
    Running(std::vector<std::string> arguments, const std::string& folder) {
        process_ = fork();
        REQUIRE(process_ >= 0);
        if (process_ > 0) return;
        for (const int signal : {SIGINT, SIGTERM, SIGHUP}) ::signal(signal, SIG_DFL);
        arguments.insert(arguments.begin(), RINGQUELL_COMMAND);
        std::vector<char*> pointers;
        for (std::string& a : arguments) pointers.push_back(a.data());
        pointers.push_back(nullptr);
        const int out = open((folder + "/out").c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0666),
                  err = open((folder + "/err").c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0666);
        if (chdir(folder.c_str()) != 0 || dup2(out, 1) < 0 || dup2(err, 2) < 0) _exit(99);
        execv(pointers[0], pointers.data());
        _exit(99);
    }
    ~Running() {
        if (process_ <= 0) return;
        kill(process_, SIGKILL);
        waitpid(process_, nullptr, 0);
    }
    Running(const Running&) = delete;
    Running& operator=(const Running&) = delete;
    int process() const { return process_; }
    /// Waits until the file is there, for half a minute at most.
    static bool appears(const std::string& file) {
        for (int k = 0; k < 3000; ++k) {
            if (fs::exists(file)) return true;
            std::this_thread::sleep_for(std::chrono::milliseconds(10));
        }
        return false;
    }
    /// As waitpid() gives it.
    int end_by(int signal) {
        kill(process_, signal);
        int status = 0;
        waitpid(process_, &status, 0);
        process_ = -1;
        return status;
    }

  private:
    pid_t process_ = -1;
};

std::vector<std::string> endless_spread() {
    return {"spread",       cases + "ropeway-cured.yaml",
            "--set",        "spread=typical",
            "--set",        "operation.path.steps=2",
            "--samples",    "100000000",
            "--threads",    "1",
            "--csv",        "rows.csv",
            "--json",       "r.json",
            "--worst",      "worst.yaml",
            "--no-resistor"};
}

}  // namespace

TEST_CASE("a pipe is written through, and stays a pipe") {
    Folder folder;
    const std::string pipe = folder / "pipe";
    REQUIRE(mkfifo(pipe.c_str(), 0600) == 0);
    std::string got;
    std::thread reader([&] { got = content(pipe); });
    const Ran ran = run(quick + " --json '" + pipe + "'");
    if (!fs::is_fifo(pipe)) write(pipe + "2", "");  // let the reader go where the pipe was replaced
    reader.join();
    CHECK(ran.status == 1);
    CHECK(fs::is_fifo(pipe));
    CHECK(parsed(got)["verb"] == "check");
    CHECK(folder.entries() == 1);
}

TEST_CASE("devices and descriptors are written through, and /dev/stdout stays a link") {
    Folder folder;
    const Ran both = run(quick + " --json /dev/stdout");
    CHECK(both.status == 1);
    // First the JSON, then the text.
    const size_t end = both.out.rfind("}\n") + 2;
    CHECK(parsed(both.out.substr(0, end))["verb"] == "check");
    CHECK(both.out.substr(end).starts_with("FAIL: "));
    CHECK(fs::is_symlink("/dev/stdout"));
    const Ran third = run(quick + " --json /dev/fd/3 3>'" + folder / "third" + "'");
    CHECK(third.status == 1);
    CHECK(parsed(content(folder / "third"))["verb"] == "check");
    CHECK(run(quick + " --json /dev/fd/9 9>&-").err ==
          "ringquell: /dev/fd/9: could not be written (Bad file descriptor)\n");
    // A device of this test's own folder: the terminal that is always full, by a link.
    fs::create_symlink("/dev/full", folder / "full");
    const Ran full = run(quick + " --json '" + folder / "full" + "'");
    CHECK(full.status == 2);
    CHECK(full.err == "ringquell: " + folder / "full" + ": could not be written (No space left on device)\n");
    CHECK(fs::is_symlink(folder / "full"));
    CHECK(fs::is_character_file("/dev/full"));
    CHECK(folder.entries() == 2);
}

TEST_CASE("a link stays, and what it names is written, be it there or not") {
    Folder folder;
    fs::create_directory(folder / "elsewhere");
    write(folder / "elsewhere/old", "old");
    fs::create_symlink("elsewhere/old", folder / "link");
    fs::create_symlink("link", folder / "to-link");
    fs::create_symlink("elsewhere/new", folder / "dangling");
    for (const auto& [link, file] :
         {std::pair{"to-link", "elsewhere/old"}, std::pair{"dangling", "elsewhere/new"}}) {
        CAPTURE(link);
        CHECK(run(quick + " --json '" + folder / link + "'").status == 1);
        CHECK(fs::is_symlink(folder / link));
        CHECK(fs::is_symlink(folder / "link"));
        CHECK(parsed(content(folder / file))["verb"] == "check");
    }
    CHECK(folder.entries() == 4);
}

TEST_CASE("a file that is written anew keeps its mode, and a new one has that of the process") {
    Folder folder;
    for (const mode_t mode : {0600, 0640, 0666}) {
        write(folder / "r.json", "old");
        REQUIRE(chmod((folder / "r.json").c_str(), mode) == 0);
        CHECK(run(quick + " --json '" + folder / "r.json" + "'").status == 1);
        CHECK(mode_of(folder / "r.json") == mode);
        CHECK(content(folder / "r.json") != "old");
    }
    const mode_t mask = umask(0027);
    run(quick + " --json '" + folder / "new.json" + "'");
    umask(mask);
    CHECK(mode_of(folder / "new.json") == 0640);
}

TEST_CASE("an output that is any file of the case is refused before any work, under every name of it") {
    Folder folder;
    copy_cases(folder);
    fs::create_symlink("parts/bead-curve.csv", folder / "link");
    fs::create_hard_link(folder / "parts/bead-curve.csv", folder / "second-name");
    const std::string before = contents_below(folder.path), lift = "ski-lift-curves.yaml",
                      read = " that was read; expected another file\n";
    struct Refused {
        std::string arguments, error;
    };
    for (const Refused& r : std::vector<Refused>{
             {"check " + lift + " --json " + lift,
              lift + ": --json: is the case itself; expected another file\n"},
             {"size " + lift + " --json ./parts/../" + lift,
              "./parts/../" + lift + ": --json: is the case itself; expected another file\n"},
             {"explain " + lift + " --json parts/sic-mosfet.yaml",
              "parts/sic-mosfet.yaml: --json: is the file `parts/sic-mosfet.yaml`" + read},
             {"choose " + lift + " --json parts/bead-curve.csv",
              "parts/bead-curve.csv: --json: is the file `parts/bead-curve.csv`" + read},
             {"choose " + lift + " --beads parts --json parts/sic-cascode.yaml",
              "parts/sic-cascode.yaml: --json: is the file `parts/sic-cascode.yaml`" + read},
             {"report " + lift + " -o link", "link: --output: is the file `parts/bead-curve.csv`" + read},
             {"report " + lift + " -o second-name",
              "second-name: --output: is the file `parts/bead-curve.csv`" + read},
             {"report ropeway-cured.yaml --bead parts/bead-sections.yaml -o parts/bead-sections.yaml",
              "parts/bead-sections.yaml: --output: is the file `parts/bead-sections.yaml`" + read},
             {"spread " + lift + " --worst parts/sic-mosfet-25degc.csv",
              "parts/sic-mosfet-25degc.csv: --worst: is the file `parts/sic-mosfet-25degc.csv`" + read},
             {"spread " + lift + " --csv " + lift,
              lift + ": --csv: is the case itself; expected another file\n"},
             {"spread " + lift + " --checkpoint parts/bead-curve.yaml",
              "parts/bead-curve.yaml: --checkpoint: is the file `parts/bead-curve.yaml`" + read},
             {"bead parts/bead-curve.csv -o parts/bead-curve.csv",
              "parts/bead-curve.csv: --output: is the measured curve itself; expected another file\n"},
             {"bead parts/bead-curve.csv --json link",
              "link: --json: is the measured curve itself; expected another file\n"},
         }) {
        CAPTURE(r.arguments);
        const Ran ran = run(r.arguments, folder.path.string());
        CHECK(ran.status == 2);
        CHECK(ran.out.empty());
        CHECK(ran.err == "ringquell: " + r.error);
        CHECK(contents_below(folder.path) == before);
    }
    fs::copy(folder.path / lift, folder.path / "A.mtx");
    CHECK(run("export A.mtx -o .", folder.path.string()).err ==
          "ringquell: ./A.mtx: --output: is the case itself; expected another file\n");
}

TEST_CASE("two outputs of one file are refused before any work") {
    Folder folder;
    copy_cases(folder);
    write(folder / "old", "old");
    const std::string lift = "ski-lift-curves.yaml",
                      spread = "spread ropeway-cured.yaml --set spread=typical ";
    const std::string before = contents_below(folder.path);
    for (const auto& [arguments, error] : std::vector<std::pair<std::string, std::string>>{
             {"report " + lift + " -o x --json ./x", "./x: --json: is the file of --output, too"},
             {"report " + lift + " -o - --json -", "--json: is the file of --output, too"},
             {"bead parts/bead-curve.csv -o old --json old", "old: --json: is the file of --output, too"},
             {spread + "--csv q --worst q", "q: --worst: is the file of --csv, too"},
             {spread + "--csv old --checkpoint parts/../old",
              "parts/../old: --checkpoint: is the file of --csv, too"},
             {spread + "--csv ropeway-cured-worst.yaml",
              "ropeway-cured-worst.yaml: --worst: is the file of --csv, too"},
             {spread + "--resume old --csv old", "old: --checkpoint: is the file of --csv, too"},
         }) {
        CAPTURE(arguments);
        const Ran ran = run(arguments, folder.path.string());
        CHECK(ran.status == 2);
        CHECK(ran.out.empty());
        CHECK(ran.err.find("ringquell: " + error) == 0);
        CHECK(contents_below(folder.path) == before);
    }
    const Ran same = run(quick + " --json all >all 2>said; (exit $?)", folder.path.string());
    CHECK(same.status == 2);
    CHECK(content(folder / "said") ==
          "ringquell: all: --json: is the file that standard output goes to; expected another file\n");
}

TEST_CASE("an empty name of a file is an error, and --read writes nothing") {
    Folder folder;
    const std::string lift = "'" + cases + "ski-lift-curves.yaml'";
    for (const auto& [arguments, option] : std::vector<std::pair<std::string, std::string>>{
             {"check " + lift + " --json ''", "--json"},
             {"check " + lift + " --json=''", "--json"},
             {"inductance via height=1mm diameter=1mm --json ''", "--json"},
             {"spread " + lift + " --csv ''", "--csv"},
             {"spread " + lift + " --worst ''", "--worst"},
             {"spread " + lift + " --checkpoint ''", "--checkpoint"},
             {"spread " + lift + " --resume ''", "--resume"},
             {"report " + lift + " -o ''", "--output"},
             {"report " + lift + " --read ''", "--read"},
             {"bead x.csv -o ''", "--output"},
             {"export " + lift + " -o ''", "--output"},
             {"new ''", "FILE"},
         }) {
        CAPTURE(arguments);
        const Ran ran = run(arguments, folder.path.string());
        CHECK(ran.status == 2);
        CHECK(ran.out.empty());
        CHECK(ran.err.starts_with(option + ": "));
        CHECK(folder.entries() == 0);
    }
    CHECK(run("spread " + lift + " --csv ''").err ==
          "--csv: found an empty name; expected a file\nRun with --help for more information.\n");
    write(folder / "empty", "");
    CHECK(run("spread " + lift + " --set spread=typical --resume empty", folder.path.string()).err ==
          "ringquell: empty: --resume: is no checkpoint of `spread`\n");
    for (const char* option : {"-o", "--json"}) {
        const Ran ran = run("report --read empty " + std::string(option) + " y", folder.path.string());
        CHECK(ran.status == 2);
        CHECK(ran.err.find("writes nothing beside --read; expected one of the two") != std::string::npos);
        CHECK(folder.entries() == 1);
    }
}

TEST_CASE("SIGTERM and SIGINT end a spread early: its files are there, and the exit status is 3") {
    for (const int signal : {SIGTERM, SIGINT}) {
        CAPTURE(signal);
        Folder folder;
        Running spread(endless_spread(), folder.path.string());
        REQUIRE(Running::appears(folder / "rows.csv.ringquell-" + std::to_string(spread.process()) + ".tmp"));
        const int status = spread.end_by(signal);
        REQUIRE(WIFEXITED(status));
        CHECK(WEXITSTATUS(status) == 3);
        CHECK(content(folder / "out").starts_with("UNDECIDED (PARTIAL): "));
        CHECK(content(folder / "err").empty());
        const json result = parsed(content(folder / "r.json"));
        CHECK(result["partial"] == true);
        CHECK(result["verdict"] == "undecided");
        const std::string rows = content(folder / "rows.csv");
        CHECK(std::count(rows.begin(), rows.end(), '\n') == 1 + result["samples"].get<long>());
        // out, err, r.json, rows.csv, and the worst sample where there is one.
        CHECK(folder.entries() == 4 + fs::exists(folder / "worst.yaml"));
    }
}

TEST_CASE("a signal that ends the process takes its temporaries with it, and the old file stays") {
    Folder folder;
    write(folder / "rows.csv", "old");
    Running spread(endless_spread(), folder.path.string());
    REQUIRE(Running::appears(folder / "rows.csv.ringquell-" + std::to_string(spread.process()) + ".tmp"));
    const int status = spread.end_by(SIGHUP);
    CHECK(WIFSIGNALED(status));
    CHECK(WTERMSIG(status) == SIGHUP);
    CHECK(content(folder / "rows.csv") == "old");
    CHECK(folder.entries() == 3);  // out and err
}

TEST_CASE("temporaries that a killed process has left are removed by the next that writes the file") {
    Folder folder;
    const auto temporary = [&](int process) {
        return folder / "rows.csv.ringquell-" + std::to_string(process) + ".tmp";
    };
    Running killed(endless_spread(), folder.path.string());
    const std::string left = temporary(killed.process());
    REQUIRE(Running::appears(left));
    killed.end_by(SIGKILL);
    CHECK(fs::exists(left));
    // Kept: of a process that lives, of another file, and what only looks alike.
    const std::vector<std::string> kept{temporary(getpid()),
                                        folder / "other.csv.ringquell-" + std::to_string(1) + ".tmp",
                                        folder / "rows.csv.ringquell-x.tmp", folder / "rows.csv.tmp"};
    for (const std::string& file : kept) write(file, "");
    // A lock says that it is being written, whatever its process number says here: by another container.
    const int locked = open(left.c_str(), O_RDONLY);
    REQUIRE(flock(locked, LOCK_EX) == 0);
    CHECK(run(quick + " --json rows.csv", folder.path.string()).status == 1);
    CHECK(fs::exists(left));
    close(locked);
    const Ran next = run(quick + " --json rows.csv", folder.path.string());
    CHECK(next.status == 1);
    CHECK_FALSE(fs::exists(left));
    for (const std::string& file : kept) CHECK(fs::exists(file));
    CHECK(parsed(content(folder / "rows.csv"))["verb"] == "check");
}
