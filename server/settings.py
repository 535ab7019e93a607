"""What an installation may set: read once from the environment (prefix STILLROOM_) by `create_app`'s caller."""

from pathlib import Path

from pydantic_settings import BaseSettings, SettingsConfigDict


class Settings(BaseSettings):
    """`database_url` empty means an embedded SQLite file in `data_folder`."""

    model_config = SettingsConfigDict(env_prefix="STILLROOM_")

    data_folder: Path = Path(".data")
    database_url: str = ""
    host: str = "127.0.0.1"
    port: int = 8000
    # One thread per connection that may be in use at once; more threads than this only slow each other down.
    connections: int = 8
    plan_seconds: float = 10.0
    # A class that is planned and proven this soon is shown as the answer to Plan; of others the search is shown.
    answer_within_s: float = 1.5
    # Processes that plan beside the server, and how many questions of a kind may wait for one.
    workers: int = 3
    waiting: int = 24

    @property
    def url(self) -> str:
        """The database address in the form the engine expects, with the driver named."""
        if not self.database_url:
            return f"sqlite:///{self.data_folder.absolute() / 'stillroom.sqlite3'}"
        for plain in ("postgresql://", "postgres://"):
            if self.database_url.startswith(plain):
                return "postgresql+psycopg://" + self.database_url.removeprefix(plain)
        return self.database_url
