#include "command/arguments.h"

#include <CLI/CLI.hpp>
#include <iostream>
#include <utility>

namespace ringquell::command {

Argument& Argument::type(const std::string& name) {
    option_->type_name(name);
    return *this;
}

Argument& Argument::required(bool yes) {
    option_->required(yes);
    return *this;
}

Argument& Argument::repeatable() {
    option_->allow_extra_args(false)->multi_option_policy(CLI::MultiOptionPolicy::TakeAll);
    return *this;
}

Argument& Argument::takes(int least, int most) {
    option_->expected(least, most);
    return *this;
}

Argument& Argument::one_of(const std::vector<std::string>& words) {
    option_->check(CLI::IsMember(words));
    return *this;
}

Argument& Argument::not_negative() {
    option_->check(CLI::NonNegativeNumber);
    return *this;
}

Argument& Argument::not_empty(const std::string& message) {
    option_->check([message](const std::string& value) { return value.empty() ? message : std::string(); });
    return *this;
}

Argument& Argument::excludes(const std::string& other) {
    option_->excludes(other);
    return *this;
}

Argument& Argument::show_default() {
    option_->capture_default_str();
    return *this;
}

Argument Verb::option(const std::string& names, std::string& value, const std::string& description) {
    return Argument(app_->add_option(names, value, description));
}

Argument Verb::option(const std::string& names, std::vector<std::string>& values,
                      const std::string& description) {
    return Argument(app_->add_option(names, values, description));
}

Argument Verb::option(const std::string& names, int& value, const std::string& description) {
    return Argument(app_->add_option(names, value, description));
}

Argument Verb::option(const std::string& names, std::int64_t& value, const std::string& description) {
    return Argument(app_->add_option(names, value, description));
}

Argument Verb::option(const std::string& names, std::uint64_t& value, const std::string& description) {
    return Argument(app_->add_option(names, value, description));
}

Argument Verb::option(const std::string& names, std::optional<double>& value,
                      const std::string& description) {
    return Argument(app_->add_option(names, value, description));
}

Argument Verb::flag(const std::string& names, bool& value, const std::string& description) {
    return Argument(app_->add_flag(names, value, description));
}

void Verb::footer(const std::string& text) {
    app_->footer(text);
}

void Verb::runs(std::function<int()> work) {
    app_->callback([chosen = chosen_, work = std::move(work)] { *chosen = work; });
}

CommandLine::CommandLine(const std::string& name, const std::string& description, const std::string& version,
                         const std::string& footer)
    : app_(std::make_unique<CLI::App>(description, name)) {
    app_->set_version_flag("--version", version);
    app_->require_subcommand(1);
    app_->footer(footer);
}

CommandLine::~CommandLine() = default;

Verb CommandLine::verb(const std::string& name, const std::string& description) {
    return {app_->add_subcommand(name, description), &chosen_};
}

std::optional<int> CommandLine::parse(int argc, char** argv, int wrong) {
    try {
        app_->parse(argc, argv);
    } catch (const CLI::ParseError& error) {
        return app_->exit(error, std::cout, std::cerr) == 0 ? 0 : wrong;
    }
    return std::nullopt;
}

}  // namespace ringquell::command
