// What the command takes: verbs, options and flags. The one place that knows CLI11 is arguments.cpp, because whoever
// includes it spends seconds on it.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

namespace CLI {
class App;
class Option;
}  // namespace CLI

namespace ringquell::command {

/// An option, a flag or a positional, to say more of it.
class Argument {
  public:
    explicit Argument(CLI::Option* option) : option_(option) {}
    /// What stands for the value in the help.
    Argument& type(const std::string& name);
    Argument& required(bool yes = true);
    /// May come several times, with one value each time.
    Argument& repeatable();
    /// So many values behind one name.
    Argument& takes(int least, int most);
    Argument& one_of(const std::vector<std::string>& words);
    Argument& not_negative();
    Argument& not_empty(const std::string& message);
    /// Not together with the other one.
    Argument& excludes(const std::string& other);
    /// The help shows the value that it has by default.
    Argument& show_default();

  private:
    CLI::Option* option_;
};

/// One verb. Names are "--long", "-s,--long", or, of a positional, "NAME"; values are written when the line is parsed.
class Verb {
  public:
    Verb(CLI::App* app, std::function<int()>* chosen) : app_(app), chosen_(chosen) {}
    Argument option(const std::string& names, std::string& value, const std::string& description);
    Argument option(const std::string& names, std::vector<std::string>& values,
                    const std::string& description);
    Argument option(const std::string& names, int& value, const std::string& description);
    Argument option(const std::string& names, std::int64_t& value, const std::string& description);
    Argument option(const std::string& names, std::uint64_t& value, const std::string& description);
    Argument option(const std::string& names, std::optional<double>& value, const std::string& description);
    Argument flag(const std::string& names, bool& value, const std::string& description);
    /// The last lines of its help.
    void footer(const std::string& text);
    /// What it does; returns the exit status.
    void runs(std::function<int()> work);

  private:
    CLI::App* app_;
    std::function<int()>* chosen_;
};

class CommandLine {
  public:
    CommandLine(const std::string& name, const std::string& description, const std::string& version,
                const std::string& footer);
    ~CommandLine();
    Verb verb(const std::string& name, const std::string& description);
    /// Help or a version that was asked for is printed and gives 0, a wrong line a message and `wrong`; else nothing, and
    /// run() does what the verb says.
    std::optional<int> parse(int argc, char** argv, int wrong);
    int run() { return chosen_(); }

  private:
    std::unique_ptr<CLI::App> app_;
    std::function<int()> chosen_;
};

}  // namespace ringquell::command
