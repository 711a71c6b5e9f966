#include "runtime/editor/conversation.h"

#include <algorithm>
#include <nlohmann/json.hpp>

#include "runtime/editor/text_edits.h"
#include "runtime/support/json_levels.h"

namespace rampart::editor {
namespace {

using std::chrono::milliseconds;

// After a change nothing is said for so long, since another one mostly follows; and no longer than so long, though they
// go on and on.
constexpr milliseconds kQuiet{10};
constexpr milliseconds kLongestQuiet{80};
// A simulation waits for a pause.
constexpr milliseconds kPause{120};

std::string text_of(const Json& json) {
  return json.dump(-1, ' ', false, Json::error_handler_t::replace);
}

}  // namespace

Conversation::Conversation(Inbox& inbox, std::function<void(const std::string&)> send)
    : inbox_(inbox), send_(std::move(send)) {}

Conversation::~Conversation() = default;

void Conversation::reply(const Json& id, Json result) {
  send_(text_of({{"jsonrpc", "2.0"}, {"id", id}, {"result", std::move(result)}}));
}

void Conversation::fail(const Json& id, const RequestError& error) {
  send_(text_of({{"jsonrpc", "2.0"},
                 {"id", id},
                 {"error", {{"code", static_cast<int>(error.code)}, {"message", error.message}}}}));
}

void Conversation::send_notification(const std::string& method, Json params) {
  send_(text_of({{"jsonrpc", "2.0"}, {"method", method}, {"params", std::move(params)}}));
}

void Conversation::answer_broken(const std::string& why) {
  fail(nullptr, {ErrorCode::ParseError, why});
}

void Conversation::give_up(const std::string& why) {
  analyse_at_.reset();
  predict_at_.reset();
  send_notification("window/logMessage", {{"type", 1}, {"message", why}});
}

bool Conversation::receive(const std::string& text) {
  if (nests_deeper(text, kMostJsonLevels)) {
    fail(nullptr, {ErrorCode::InvalidRequest, "the message is nested too deeply"});
    return true;
  }
  const Json message = Json::parse(text, nullptr, false);
  if (message.is_discarded()) {
    answer_broken("the message is no JSON");
    return true;
  }
  return dispatch(message);
}

bool Conversation::dispatch(const Json& message) {
  const bool is_call = message.is_object() && message.contains("method") && message["method"].is_string();
  if (!is_call) {
    // Answers to what was asked of the client need none.
    const bool is_answer = message.is_object() && message.contains("id") && !message.contains("method") &&
                           (message.contains("result") || message.contains("error"));
    if (!is_answer) fail(nullptr, {ErrorCode::InvalidRequest, "the message is not a request"});
    return true;
  }
  const std::string method = message["method"].get<std::string>();
  static const Json kNoParams = Json::object();
  const Json& params = message.contains("params") ? message["params"] : kNoParams;
  if (!message.contains("id")) {
    if (method == "exit") return false;
    notify(method, params);
    return true;
  }
  const Json& id = message["id"];
  if (!id.is_string() && !id.is_number_integer()) {
    fail(nullptr, {ErrorCode::InvalidRequest, "the id of a request is a number or a text"});
    return true;
  }
  answer(id, method, params);
  return true;
}

void Conversation::answer(const Json& id, const std::string& method, const Json& params) {
  if (inbox_.take_cancelled(id.dump())) return fail(id, {ErrorCode::RequestCancelled, "cancelled"});
  if (state_ == State::ShutDown) return fail(id, {ErrorCode::InvalidRequest, "the server has been shut down"});
  if (state_ == State::New && method != "initialize") {
    return fail(id, {ErrorCode::ServerNotInitialized, "`initialize` comes first"});
  }
  if (state_ != State::New && method == "initialize") {
    return fail(id, {ErrorCode::InvalidRequest, "the server is initialized"});
  }
  const auto handler = requests().find(method);
  if (handler == requests().end()) return fail(id, {ErrorCode::MethodNotFound, "there is no method `" + method + "`"});
  try {
    reply(id, (this->*handler->second)(params));
  } catch (const RequestError& error) {
    fail(id, error);
  } catch (const JobStopped&) {
    fail(id, {ErrorCode::ContentModified, "the text was changed meanwhile"});
  } catch (const Json::exception&) {
    fail(id, {ErrorCode::InvalidParams, "the parameters of `" + method + "` are not as LSP 3.17 has them"});
  } catch (const std::exception& failure) {
    fail(id, {ErrorCode::InternalError, failure.what()});
  }
}

// What has no answer has no error either: what makes no sense is let go.
void Conversation::notify(const std::string& method, const Json& params) {
  if (state_ != State::Ready) return;
  try {
    if (method == "textDocument/didOpen") {
      open(params);
    } else if (method == "textDocument/didChange") {
      change(params);
    } else if (method == "textDocument/didClose") {
      close(params);
    } else if (method == "textDocument/didSave" || method == "workspace/didChangeWatchedFiles") {
      workspace_.files_changed();
      touch();
    } else if (method == "workspace/didChangeWorkspaceFolders") {
      for (const Json& folder : params.at("event").at("added")) {
        workspace_.add_folder(Workspace::path_of(folder.at("uri").get<std::string>()));
      }
    } else if (method == "initialized") {
      watch_files();
    } else if (method == "$/cancelRequest") {
      // Its turn is past.
      static_cast<void>(inbox_.take_cancelled(params.at("id").dump()));
    }
  } catch (const Json::exception&) {
    send_notification("window/logMessage",
                      {{"type", 2}, {"message", "the parameters of `" + method + "` are not as LSP 3.17 has them"}});
  }
}

void Conversation::watch_files() {
  if (!client_.watches_files) return;
  Json watchers = Json::array();
  for (const char* pattern : {"**/*.ramp", "**/*.yaml", "**/*.yml"}) watchers.push_back({{"globPattern", pattern}});
  send_(text_of({{"jsonrpc", "2.0"},
                 {"id", next_id_++},
                 {"method", "client/registerCapability"},
                 {"params",
                  {{"registrations",
                    {{{"id", "files"},
                      {"method", "workspace/didChangeWatchedFiles"},
                      {"registerOptions", {{"watchers", std::move(watchers)}}}}}}}}}));
}

void Conversation::open(const Json& params) {
  const Json& document = params.at("textDocument");
  workspace_.open(document.at("uri").get<std::string>(), integer_of(document.at("version")),
                  document.at("text").get<std::string>());
  touch();
}

void Conversation::change(const Json& params) {
  const Json& named = params.at("textDocument");
  const std::string uri = named.at("uri").get<std::string>();
  const Document* document = workspace_.document(uri);
  if (document == nullptr) return;
  TextPtr text = document->text;
  for (const Json& one : params.at("contentChanges")) {
    std::string changed = one.at("text").get<std::string>();
    if (one.contains("range")) {
      changed = replaced(*text, range_of(one.at("range")), changed, client_.encoding);
    }
    text = make_text("", std::move(changed));
  }
  workspace_.change(uri, integer_of(named.at("version")), std::string(text->text()));
  touch();
}

void Conversation::close(const Json& params) {
  workspace_.close(params.at("textDocument").at("uri").get<std::string>());
  touch();
}

void Conversation::touch() {
  const auto now = Inbox::Clock::now();
  if (!stale_since_) stale_since_ = now;
  analyse_at_ = std::min(now + kQuiet, *stale_since_ + kLongestQuiet);
  predict_at_.reset();
  predictor_->drop();
  end_progress();
}

void Conversation::take(const PredictionPtr& prediction) {
  workspace_.predicted(prediction);
  publish();
}

void Conversation::take(const PredictionsTold& told) {
  if (told.asked == asked_) end_progress();
}

void Conversation::begin_progress() {
  if (!client_.shows_progress) return;
  progress_ = "rampart-" + std::to_string(next_id_);
  send_(text_of({{"jsonrpc", "2.0"},
                 {"id", next_id_++},
                 {"method", "window/workDoneProgress/create"},
                 {"params", {{"token", progress_}}}}));
  send_notification("$/progress", {{"token", progress_}, {"value", {{"kind", "begin"}, {"title", "simulating"}}}});
}

void Conversation::end_progress() {
  if (progress_.empty()) return;
  send_notification("$/progress", {{"token", progress_}, {"value", {{"kind", "end"}}}});
  progress_.clear();
}

std::optional<Inbox::Clock::time_point> Conversation::next_deadline() const {
  return analyse_at_ ? analyse_at_ : predict_at_;
}

void Conversation::work_on(bool is_quiet) {
  if (state_ != State::Ready) return;
  const auto now = Inbox::Clock::now();
  const bool is_overdue = stale_since_ && now >= *stale_since_ + kLongestQuiet;
  if (analyse_at_ && now >= *analyse_at_ && (is_quiet || is_overdue)) {
    try {
      refresh();
    } catch (const JobStopped&) {
      return touch();
    }
  }
  if (!analyse_at_ && predict_at_ && now >= *predict_at_) {
    predict_at_.reset();
    begin_progress();
    asked_ = predictor_->ask(workspace_.unpredicted());
  }
}

void Conversation::refresh() {
  if (workspace_.is_stale()) {
    workspace_.refresh({inbox_.begin_work(), {}, usual_threads()});
    inbox_.end_work();
  } else if (!analyse_at_) {
    return;
  }
  analyse_at_.reset();
  stale_since_.reset();
  predict_at_ = Inbox::Clock::now() + kPause;
  publish();
}

void Conversation::publish() {
  std::map<std::string, Json> lists;
  for (const auto& [path, findings] : workspace_.findings()) {
    Json& list = lists[workspace_.uri_of(path)] = Json::array();
    for (const PlacedFinding& one : findings) list.push_back(diagnostic_json(workspace_, one, client_));
  }
  for (const std::string& uri : workspace_.open_uris()) lists.try_emplace(uri, Json::array());
  for (const auto& [uri, known] : published_) lists.try_emplace(uri, Json::array());
  for (auto& [uri, list] : lists) publish_one(uri, std::move(list));
}

// What has been told already is not told again, unless of another version of the text.
void Conversation::publish_one(const std::string& uri, Json findings) {
  const Document* document = workspace_.document(uri);
  const bool is_empty = findings.empty();
  const Published now{text_of(findings), document != nullptr ? document->version : 0};
  const auto known = published_.find(uri);
  const bool is_news = known == published_.end() || known->second.findings != now.findings ||
                       (client_.diagnostic_versions && known->second.version != now.version);
  if (is_news) {
    Json params{{"uri", uri}, {"diagnostics", std::move(findings)}};
    if (document != nullptr && client_.diagnostic_versions) params["version"] = now.version;
    send_notification("textDocument/publishDiagnostics", std::move(params));
  }
  if (is_empty && document == nullptr) {
    published_.erase(uri);
  } else {
    published_[uri] = now;
  }
}

}  // namespace rampart::editor
