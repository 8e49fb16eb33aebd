#include "command/output_files.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <atomic>
#include <cerrno>
#include <charconv>
#include <climits>
#include <csignal>
#include <cstring>
#include <filesystem>
#include <iostream>
#include <optional>

#include "ringquell/error.h"

namespace ringquell::command {

namespace fs = std::filesystem;

namespace {

// ---- temporaries, for the handler of signals ------------------------------------------------------------

/// Paths that a handler may remove: no memory is taken or freed, and `used` is set last and cleared first.
struct Slot {
    std::atomic<bool> used{false};
    char path[PATH_MAX];
};
std::array<Slot, 8> slots;
static_assert(std::atomic<bool>::is_always_lock_free, "read in a handler of signals");

void remember(const std::string& path) {
    for (Slot& slot : slots) {
        if (slot.used || path.size() >= sizeof slot.path) continue;
        std::memcpy(slot.path, path.c_str(), path.size() + 1);
        slot.used = true;
        return;
    }
}

void forget(const std::string& path) {
    for (Slot& slot : slots)
        if (slot.used && path == slot.path) slot.used = false;
}

constexpr int ending_signals[] = {SIGINT, SIGTERM, SIGHUP, SIGQUIT, SIGPIPE, SIGXCPU};

/// Installed with SA_RESETHAND: the signal that is raised again acts as if it had not been caught.
extern "C" void remove_and_end(int signal) {
    for (Slot& slot : slots)
        if (slot.used) unlink(slot.path);
    raise(signal);
}

volatile std::sig_atomic_t asked_to_end = 0;
extern "C" void ask_to_end(int signal) {
    if (asked_to_end) {
        std::signal(signal, SIG_DFL);
        remove_and_end(signal);
    }
    asked_to_end = 1;
}

// ---- where an output goes -------------------------------------------------------------------------------

/// The number at the end of `text`, if it is nothing else.
std::optional<int> number_in(std::string_view text) {
    int value = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (error != std::errc() || end != text.data() + text.size() || value < 0) return std::nullopt;
    return value;
}

/// N of /dev/fd/N and of what means the same.
std::optional<int> descriptor_named(const fs::path& path) {
    const fs::path plain = path.lexically_normal();
    for (const std::string& folder :
         {std::string("/dev/fd"), std::string("/proc/self/fd"), fmt::format("/proc/{}/fd", getpid())})
        if (plain.parent_path() == folder) return number_in(plain.filename().string());
    return std::nullopt;
}

struct Target {
    fs::path path;                  // links followed; canonical as far as it exists
    std::optional<int> descriptor;  // of this process
    bool exists = false;
    struct stat status {};
    bool plain() const { return exists && S_ISREG(status.st_mode); }
    /// Would be replaced, not written through.
    bool replaced() const { return !descriptor && (plain() || !exists); }
};

Target target_of(const std::string& file) {
    Target out;
    std::error_code error;
    fs::path path = file == "-" ? fs::path("/dev/stdout") : fs::absolute(file, error);
    constexpr int most_links = 40;  // as many as Linux follows
    for (int k = 0; k < most_links && !out.descriptor; ++k) {
        out.descriptor = descriptor_named(path);
        if (out.descriptor || !fs::is_symlink(path, error)) break;
        const fs::path to = fs::read_symlink(path, error);
        if (error) break;
        path = to.is_absolute() ? to : path.parent_path() / to;
    }
    out.path = fs::weakly_canonical(path.parent_path(), error) / path.filename();
    if (error) out.path = path;
    out.exists =
        out.descriptor ? fstat(*out.descriptor, &out.status) == 0 : stat(out.path.c_str(), &out.status) == 0;
    return out;
}

/// One plain file, or one that both would make.
bool same_file(const Target& a, const Target& b) {
    if (a.exists != b.exists) return false;
    if (!a.exists) return !a.descriptor && !b.descriptor && a.path == b.path;
    return a.plain() && b.plain() && a.status.st_dev == b.status.st_dev && a.status.st_ino == b.status.st_ino;
}

// ---- what others have left ------------------------------------------------------------------------------

constexpr const char* mark = ".ringquell-";
constexpr const char* ending = ".tmp";

/// Removes temporaries of `target` whose process is gone. A lock that is held, by whomever, protects its
/// file: process numbers say nothing across containers.
void remove_stale(const fs::path& target) {
    std::error_code error;
    const std::string begin = target.filename().string() + mark;
    for (fs::directory_iterator entry(target.parent_path(), error), end; !error && entry != end;
         entry.increment(error)) {
        const std::string name = entry->path().filename().string();
        if (!name.starts_with(begin) || !name.ends_with(ending) ||
            name.size() <= begin.size() + std::strlen(ending))
            continue;
        const auto process = number_in(
            std::string_view(name).substr(begin.size(), name.size() - begin.size() - std::strlen(ending)));
        if (!process || *process == 0) continue;
        if (*process != getpid() && (kill(*process, 0) == 0 || errno != ESRCH)) continue;
        const int descriptor = open(entry->path().c_str(), O_RDONLY | O_NOFOLLOW | O_NONBLOCK | O_CLOEXEC);
        if (descriptor < 0) continue;
        if (flock(descriptor, LOCK_EX | LOCK_NB) == 0) unlink(entry->path().c_str());
        close(descriptor);
    }
}

}  // namespace

void keep_apart(const std::vector<Output>& outputs, const std::vector<std::string>& read,
                const std::string& first) {
    std::vector<std::pair<Output, Target>> known;
    const Target standard = target_of("/dev/stdout");
    const auto named = [](const Output& o) { return o.file == "-" ? Place{} : Place{o.file}; };
    for (const Output& output : outputs) {
        if (output.file.empty()) continue;
        const bool to_standard = output.file == "-";
        const Target target = target_of(output.file);
        for (const std::string& file : read) {
            if (to_standard || !same_file(target, target_of(file))) continue;
            if (file == read.front())
                throw InputError(named(output), output.option,
                                 fmt::format("is {} itself; expected another file", first));
            throw InputError(named(output), output.option,
                             fmt::format("is the file `{}` that was read; expected another file", file));
        }
        for (const auto& [other, its_target] : known)
            if ((to_standard && other.file == "-") ||
                ((target.replaced() || its_target.replaced()) && same_file(target, its_target)))
                throw InputError(named(output), output.option,
                                 fmt::format("is the file of {}, too; expected another file", other.option));
        if (!to_standard && target.replaced() && same_file(target, standard))
            throw InputError(named(output), output.option,
                             "is the file that standard output goes to; expected another file");
        known.emplace_back(output, target);
    }
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

GrowingOutput::GrowingOutput(const std::string& file) : file_(file) {
    const Target target = target_of(file);
    target_ = target.path.string();
    if (target.descriptor)
        descriptor_ = dup(*target.descriptor);  // so that it goes on where others have written
    else if (target.replaced())
        open_temporary(target.exists ? target.status.st_mode : 0666);
    else
        descriptor_ = open(target_.c_str(), O_WRONLY | O_NOCTTY | O_CLOEXEC);
    if (descriptor_ < 0) fail(errno);
    if (target.plain() && !temporary_.empty()) {
        // Whose it was it stays where that may be; the mode comes after, which a change of owner may reduce.
        if (fchown(descriptor_, target.status.st_uid, target.status.st_gid) != 0) errno = 0;
        if (fchmod(descriptor_, target.status.st_mode & 07777) != 0) fail(errno);
    }
}

void GrowingOutput::open_temporary(mode_t mode) {
    remove_stale(target_);
    temporary_ = target_ + mark + std::to_string(getpid()) + ending;
    remember(temporary_);
    // Never more open than the file will be, whatever the mask of this process takes away.
    descriptor_ = open(temporary_.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, mode & 0777);
    if (descriptor_ >= 0) flock(descriptor_, LOCK_EX | LOCK_NB);
}

GrowingOutput::~GrowingOutput() {
    give_up();
}

void GrowingOutput::give_up() noexcept {
    if (!temporary_.empty()) {
        if (descriptor_ >= 0) unlink(temporary_.c_str());
        forget(temporary_);
        temporary_.clear();
    }
    if (descriptor_ >= 0) close(descriptor_);
    descriptor_ = -1;
}

void GrowingOutput::fail(int error) {
    const bool whole = !temporary_.empty();
    give_up();
    throw InputError(
        {file_}, "",
        fmt::format("could not be written ({}){}", std::strerror(error),
                    whole ? "; expected a path in a folder that exists and may be written to" : ""));
}

void GrowingOutput::flush() {
    std::string_view rest = waiting_;
    while (!rest.empty()) {
        const ssize_t written = write(descriptor_, rest.data(), rest.size());
        if (written < 0 && errno == EINTR) continue;
        if (written < 0) fail(errno);
        rest.remove_prefix(static_cast<size_t>(written));
    }
    waiting_.clear();
}

void GrowingOutput::add(std::string_view text) {
    constexpr size_t at_once = 1 << 16;
    waiting_ += text;
    if (waiting_.size() >= at_once) flush();
}

void GrowingOutput::finish() {
    flush();
    // Some file systems report a full disk when a descriptor is closed; this one still holds the lock.
    const int second = dup(descriptor_);
    if (second < 0 || close(second) != 0) fail(errno);
    if (!temporary_.empty()) {
        if (rename(temporary_.c_str(), target_.c_str()) != 0) fail(errno);
        forget(temporary_);
        temporary_.clear();
    }
    give_up();
}

void remove_temporaries_on_signals() {
    for (const int signal : ending_signals) {
        struct sigaction before {};
        if (sigaction(signal, nullptr, &before) != 0 || before.sa_handler == SIG_IGN) continue;
        struct sigaction action {};
        action.sa_handler = remove_and_end;
        action.sa_flags = SA_RESETHAND;
        sigemptyset(&action.sa_mask);
        sigaction(signal, &action, nullptr);
    }
}

namespace {
struct sigaction before_interruption[2];
constexpr int asking_signals[] = {SIGINT, SIGTERM};
}  // namespace

Interruption::Interruption() {
    asked_to_end = 0;
    struct sigaction action {};
    action.sa_handler = ask_to_end;
    action.sa_flags = SA_RESTART;
    sigemptyset(&action.sa_mask);
    for (size_t k = 0; k < std::size(asking_signals); ++k)
        sigaction(asking_signals[k], &action, &before_interruption[k]);
}

Interruption::~Interruption() {
    for (size_t k = 0; k < std::size(asking_signals); ++k)
        sigaction(asking_signals[k], &before_interruption[k], nullptr);
}

bool Interruption::asked() {
    return asked_to_end != 0;
}

}  // namespace ringquell::command
